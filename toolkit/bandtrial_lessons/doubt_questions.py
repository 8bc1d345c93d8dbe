"""Lesson 1's last questions: how sure two bands make n, and whose n it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bandtrial_lessons import costs
from bandtrial_lessons.question import Question, Slip
from bandtrial_lessons.teaching import own_random

if TYPE_CHECKING:
    from bandtrial_lessons.speed_life import SpeedAndLife

SHORTER = 0.7
"""Life of a band that wears faster than its neighbour, in the question on doubt: lives of tools of one kind scatter by
25 to 45 % (Machinery's Handbook, 31st ed., p. 139)."""
EDGES = (("carbon edge", 0.10), ("bimetal edge (high-speed-steel teeth)", 0.125), ("carbide edge", 0.25))
"""n by edge, `published.priors` taylor_n: groover, kalpakjian, from memory; inferred from the edge material."""
CARBIDE_RISE = 0.2
"""Of the speed, in the question on edges [-]."""


def doubt_and_edge(lesson: SpeedAndLife) -> list[Question]:
    """Both questions."""
    return [doubt(lesson), edge_question(lesson)]


def doubt(lesson: SpeedAndLife) -> Question:
    (V1, V2), (T1, T2), (n, _) = lesson.speeds, lesson.lives, lesson.law
    other = float(costs.taylor_from_two_points(V1, SHORTER * T1, V2, T2).n)
    longer = float(costs.taylor_from_two_points(V1, T1 / SHORTER, V2, T2).n)
    return lesson.ask_for(
        "1h", "How sure is this n? Had band 1 lasted 30 % less, as a band of the same kind well may, what would n "
              "have come to?", "number", other, given=lesson.both, tolerance=0.01,
        why_tolerance="three digits, and closer than the slips",
        nudge="Only one of the four numbers in 1c changes.",
        how=f"put {SHORTER:g} T1 for T1 into n = log(V2 / V1) / log(T1 / T2).",
        because=f"Instead of {n:.3f}. Lives of tools of one kind scatter by 25 to 45 %, so two bands can't tell n: "
                "that takes more bands, or more speeds on each band, as in the fourth lesson.",
        source="scatter: Machinery's Handbook, 31st ed., p. 139",
        slips=(
            Slip(float(n), "That is n as it was; a shorter life of the slow band makes the line flatter."),
            Slip(longer, "That is for a band that lasted longer."),
        ),
    )  # fmt: skip


def edge_question(lesson: SpeedAndLife) -> Question:
    kept = {edge: (1 + CARBIDE_RISE) ** (-1 / n) for edge, n in EDGES}
    carbon, steel, carbide = kept.values()
    return lesson.ask_for(
        "1i", f"n belongs to the edge (table above). The speed goes up by {100 * CARBIDE_RISE:g} % on a band with "
              f"{other_edge(lesson)[0]}: what share of its life does it keep?", "percent",
        (1 + CARBIDE_RISE) ** (-1 / other_edge(lesson)[1]),
        given=f"n = {other_edge(lesson)[1]:g}.", source="n: groover, kalpakjian; from memory",
        nudge="As in 1e, with the n of that edge.",
        how=f"put {1 + CARBIDE_RISE:g} and the n of the table into V^(-1/n).",
        because=f"Carbon keeps {100 * carbon:.0f} %, high-speed steel {100 * steel:.0f} %, carbide "
                f"{100 * carbide:.0f} %: the hotter an edge may run, the more speed it forgives.",
        slips=tuple(Slip(kept[edge], f"That is with the n of a {edge}.") for edge in kept
                    if edge != other_edge(lesson)[0]),
    )  # fmt: skip


def other_edge(lesson: SpeedAndLife) -> tuple[str, float]:
    """Carbon or carbide, and its n."""
    return EDGES[0] if own_random(lesson.drawn, 8).random() < 0.5 else EDGES[2]
