"""What is said wherever somebody is told to cut."""

CAUTIONS: list[str] = [
    "Wear eye protection; add a face shield for friction sawing.",
    "No gloves, rings, watches or loose sleeves.",
    "Take chips off with a brush, never with a hand or a rag.",
    "All wheel and band guards in place.",
    "Upper guide 1/8 to 1/4 in (3 to 6 mm) above the work.",
    "Change the speed range only as the machine's maker says.",
    "Hands out of the band's line; push with a block.",
    "Magnesium and titanium chips burn: keep them away from sparks and water.",
    "Dust of some alloys (beryllium copper) is poisonous.",
    "Recommendations are starting points for a qualified person; the machine maker's limits, the band "
    "maker's limits and local rules come first.",
]
