"""Worked examples of the lessons: numbers that are no student's, worked by the package, step by step."""

from __future__ import annotations

from bandtrial import sawing

from bandtrial_lessons import costs, textbook
from bandtrial_lessons.shown_table import Table

HEADS = ("example", "given", "step by step", "answer", "source")
Example = tuple[str, str, str, str, str]
"""Name, what is given, the steps, what comes out, source."""
GROOVER = "Groover, Fundamentals of Modern Manufacturing; inputs from memory"
TURNING = "a turning tool, not a band: the law and its steps are the same, the n is not"
EXERCISE = f"textbook-type exercise; {TURNING}"
WEAR: dict[float, tuple[tuple[float, ...], tuple[float, ...]]] = {
    100.0: ((1, 5, 11, 15, 20, 25), (0.12, 0.27, 0.45, 0.58, 0.73, 0.97)),
    155.0: ((1, 5, 9, 11, 13), (0.22, 0.47, 0.70, 0.80, 0.99)),
}
"""Speed [m/min] -> minutes and flank wear read then [mm], of a carbide turning tool; data read."""


def examples(lesson: int) -> Table:
    """The worked examples of a lesson as a table: each with its steps, none with a student's numbers."""
    rows = {1: speed_and_life, 2: teeth_and_feed, 3: cost_of_a_cut}[lesson]()
    return Table(HEADS, tuple(rows))


def speed_and_life() -> list[Example]:
    return [two_wear_curves(), two_trials(), change_of_speed(), mixed_work()]


def two_trials() -> Example:
    n, C = costs.taylor_from_two_points(160.0, 5.0, 100.0, 41.0)
    return (
        "n and C",
        "160 m/min (525 ft/min) for 5 min; 100 m/min (328 ft/min) for 41 min",
        "n = log(160 / 100) / log(41 / 5) = 0.204 / 0.914; C = 160 x 5^0.223",
        f"n = {n:.3f}, C = {C:.0f} m/min",
        f"{GROOVER}; {TURNING}",
    )


def two_wear_curves() -> Example:
    (V1, read1), (V2, read2) = WEAR.items()
    T1, T2 = (textbook.straight_line_crossing(*read, limit=0.75) for read in (read1, read2))
    n, C = costs.taylor_from_two_points(V1, T1, V2, T2)
    return (
        "reading a life",
        "wear of a carbide turning tool at 100 and 155 m/min; worn at 0.75 mm (0.030 in)",
        "between 0.73 mm at 20 min and 0.97 mm at 25 min: 20 + 5 x (0.75 - 0.73) / (0.97 - 0.73)",
        f"lives {T1:.2f} and {T2:.2f} min, n = {n:.3f}, C = {C:.1f} m/min",
        f"{EXERCISE}; data read, answers computed",
    )


def change_of_speed() -> Example:
    """Life is proportional to V^(-1/n)."""
    slower, faster = (costs.taylor_life(V, 0.4, 1.0) for V in (0.8, 1.3))
    return (
        "slower, faster",
        "n = 0.4: speed 20 % less; 30 % more",
        "0.8^(-1 / 0.4) = 0.8^-2.5; 1.3^-2.5",
        f"life x {slower:.3f}; x {faster:.3f}",
        EXERCISE,
    )


def mixed_work() -> Example:
    T50, T42 = (costs.taylor_life(V, 0.125, 70.0) for V in (50.0, 42.0))
    left = costs.remaining_life_linear_damage([7.38], [T50], T42)
    return (
        "mixed work",
        "n = 0.125, C = 70 m/min; 7.38 min at 50 m/min, then 42 m/min",
        "share used 7.38 / 14.758 = 0.500; left (1 - 0.500) x 59.537",
        f"lives {T50:.3f} and {T42:.3f} min; {left:.2f} min are left",
        "arithmetic, no source",
    )


def teeth_and_feed() -> list[Example]:
    p = float(sawing.tooth_spacing(10.0))
    teeth, h = float(sawing.teeth_in_cut(15.875, p)), float(sawing.chip_load(50.0, 100.0, p))
    return [
        ("teeth in the cut", "10 tpi, plate 15.875 mm (5/8 in) thick", "p = 25.4 / 10 = 2.54 mm; 15.875 / 2.54",
         f"{teeth:.2f} teeth", "arithmetic"),
        ("chip load", "that band at 50 m/min (164 ft/min), feed 100 mm/min (3.94 in/min)",
         "h = F p / V = 100 x 2.54 / 50000 mm", f"{h:.2f} µm", "arithmetic"),
    ]  # fmt: skip


def cost_of_a_cut() -> list[Example]:
    n, C, change, price, hour = 0.125, 70.0, 2.0, 3.0, 30.0
    lives = costs.maximum_output_life(n, change), costs.minimum_cost_life(n, change, price, hour)
    V = costs.maximum_output_speed(n, C, change), costs.minimum_cost_speed(n, C, change, price, hour)
    given = "n = 0.125, C = 70 m/min, change 2 min, 3 for an edge, 30 for an hour"
    said = [
        f"{speed:.1f} m/min ({speed / 0.3048:.0f} ft/min), life {T:.0f} min" for speed, T in zip(V, lives, strict=True)
    ]
    source = f"{GROOVER}; {TURNING}"
    return [
        ("greatest output", given, "T = (1 / 0.125 - 1) x 2 = 14; V = 70 / 14^0.125", said[0], source),
        ("lowest cost", given, "a minute costs 30 / 60 = 0.50; T = 7 x (2 + 3 / 0.50) = 56; V = 70 / 56^0.125", said[1],
         source),
    ]  # fmt: skip
