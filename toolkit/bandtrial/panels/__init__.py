"""Controls for notebooks, one panel for each question; each is a function that returns one widget.

`starting`  published starting settings as material, thickness, edge and coolant are chosen
"""

from bandtrial.panels.starting import starting_settings

__all__ = ["starting_settings"]
