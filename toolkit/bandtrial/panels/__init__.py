"""Controls for notebooks, one panel for each question; each is a function that returns one widget."""
