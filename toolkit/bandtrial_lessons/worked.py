"""Worked examples of the lessons: textbook numbers, worked by the package; what is given, what comes out, "
"whose."""

from __future__ import annotations

from bandtrial_lessons import costs, textbook
from bandtrial_lessons.shown_table import Table

Example = tuple[str, str, str, str]
"""Name, what is given, what comes out, source."""
GROOVER = "Groover, Fundamentals of Modern Manufacturing; inputs from memory"
EXERCISE = "textbook-type exercise"
WEAR: dict[float, tuple[tuple[float, ...], tuple[float, ...]]] = {
    100.0: ((1, 5, 11, 15, 20, 25), (0.12, 0.27, 0.45, 0.58, 0.73, 0.97)),
    155.0: ((1, 5, 9, 11, 13), (0.22, 0.47, 0.70, 0.80, 0.99)),
}
"""Speed [m/min] -> minutes and flank wear read then [mm], of a textbook-type exercise; data read."""


def examples(lesson: int) -> Table:
    """The worked examples of a lesson as a table."""
    rows = {1: speed_and_life, 2: feed_and_life, 3: cost_of_a_cut}[lesson]()
    return Table(("example", "given", "answer", "source"), tuple(rows))


def speed_and_life() -> list[Example]:
    return [two_trials(), two_wear_curves(), *change_of_speed(), spread_of_c(), mixed_work()]


def two_trials() -> Example:
    n, C = costs.taylor_from_two_points(160.0, 5.0, 100.0, 41.0)
    return (
        "two trials",
        "160 m/min (525 ft/min) for 5 min; 100 m/min (328 ft/min) for 41 min",
        f"n = {n:.3f}, C = {C:.0f} m/min",
        GROOVER,
    )


def two_wear_curves() -> Example:
    (V1, read1), (V2, read2) = WEAR.items()
    T1, T2 = (textbook.straight_line_crossing(*read, limit=0.75) for read in (read1, read2))
    n, C = costs.taylor_from_two_points(V1, T1, V2, T2)
    return (
        "two wear curves",
        "wear read at 100 and 155 m/min; worn at 0.75 mm (0.030 in)",
        f"lives {T1:.2f} and {T2:.2f} min, n = {n:.3f}, C = {C:.1f} m/min",
        f"{EXERCISE}; data read, answers computed",
    )


def change_of_speed() -> list[Example]:
    """Life is proportional to V^(-1/n)."""
    slower, faster, half = (costs.taylor_life(V, n, 1.0) for V, n in ((0.8, 0.4), (1.3, 0.4), (0.5, 0.5)))
    return [
        ("slower, faster", "n = 0.4: speed 20 % less; 30 % more", f"life x {slower:.3f}; x {faster:.3f}", EXERCISE),
        ("half the speed", "n = 0.5: half the speed", f"life x {half:.0f}", EXERCISE),
    ]


def spread_of_c() -> Example:
    """The constants are speeds in m/s whose lives are in minutes, as the exercise has them."""
    low, high = (costs.taylor_life(0.635, 0.125, C) for C in (1.016, 1.143))
    same = costs.taylor_speed(low, 0.125, 1.143)
    return (
        "a better tool",
        "n = 0.125, C from 1.016 to 1.143 m/s (200 to 225 ft/min), at 0.635 m/s (125 ft/min)",
        f"life {low:.2f} to {high:.2f} min; the better one lives {low:.2f} min at {same:.3f} m/s",
        EXERCISE,
    )


def mixed_work() -> Example:
    T50, T42 = (costs.taylor_life(V, 0.125, 70.0) for V in (50.0, 42.0))
    left = costs.remaining_life_linear_damage([7.38], [T50], T42)
    return (
        "mixed work",
        "n = 0.125, C = 70 m/min; 7.38 min at 50 m/min, then 42 m/min",
        f"lives {T50:.3f} and {T42:.3f} min; {left:.2f} min are left",
        "arithmetic, no source",
    )


def feed_and_life() -> list[Example]:
    fit = textbook.fit_log_life([30.0, 15.0, 9.0], speed=[300.0, 400.0, 400.0], feed=[0.2, 0.2, 0.3])
    p, q = -fit.exponents["speed"], -fit.exponents["feed"]
    return [
        (
            "speed and feed",
            "v^p f^q T = C through (300, 0.2, 30), (400, 0.2, 15), (400, 0.3, 9)",
            f"p = {p:.2f}, q = {q:.2f}",
            "university course solution, 2011",
        )
    ]


def cost_of_a_cut() -> list[Example]:
    n, C, change, price, hour = 0.125, 70.0, 2.0, 3.0, 30.0
    lives = costs.maximum_output_life(n, change), costs.minimum_cost_life(n, change, price, hour)
    V = costs.maximum_output_speed(n, C, change), costs.minimum_cost_speed(n, C, change, price, hour)
    given = "n = 0.125, C = 70 m/min, change 2 min, 3 for an edge, 30 for an hour"
    said = [
        f"{speed:.1f} m/min ({speed / 0.3048:.0f} ft/min), life {T:.0f} min" for speed, T in zip(V, lives, strict=True)
    ]
    return [("greatest output", given, said[0], GROOVER), ("lowest cost", given, said[1], GROOVER)]
