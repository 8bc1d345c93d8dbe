"""Lesson 2's questions on a tooth, its gullet and its pitch."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from bandtrial import sawing

from bandtrial_lessons.question import Question, Slip

if TYPE_CHECKING:
    from bandtrial_lessons.feed_teeth import FeedAndTeeth

PITCHES = (3, 4, 6, 8, 10, 14, 18, 24)
"""Offered for a thin wall [tpi]; common in band stock, no source."""
COARSE = (1.25, 2, 3, 4, 6)
"""Offered for a thick block [tpi]; common in band stock, no source."""
LEAST_TEETH, MOST_TEETH = 3.0, 24.0
"""Teeth in the cut: the stricter of two published rules (open_textbook), and 24 at most (common practice, memory)."""


def clear_wall(random: np.random.Generator, nice: Callable[[float], float]) -> float:
    """A wall [mm] for which no pitch is near to the rule."""
    wall = nice(float(random.uniform(3.3, 7.0)))
    while abs(np.array(PITCHES) * wall / 25.4 / LEAST_TEETH - 1.0).min() < 0.04:
        wall = nice(float(random.uniform(3.3, 7.0)))
    return wall


def clear_block(random: np.random.Generator, nice: Callable[[float], float]) -> float:
    """A block's thickness [mm] for which no pitch is near to the rule and 6 tpi is too fine."""
    block = nice(float(random.uniform(115.0, 290.0)))
    while abs(np.array(COARSE) * block / 25.4 / MOST_TEETH - 1.0).min() < 0.04:
        block = nice(float(random.uniform(115.0, 290.0)))
    return block


def one_tooth(lesson: FeedAndTeeth) -> list[Question]:
    """How many teeth, how much each, and the feed for it."""
    return [_teeth(lesson), _chip_load(lesson), _feed(lesson)]


def _teeth(lesson: FeedAndTeeth) -> Question:
    L, p, tpi = lesson.numbers["plate"], lesson.spacing, lesson.shop.stock.pitch_tpi
    return lesson.ask_for(
        "2a", f"How many teeth of a {tpi:g} tpi band are in the cut in a plate {lesson.show(L, 'length')} thick?",
        "number", float(sawing.teeth_in_cut(L, p)), source="arithmetic",
        nudge="How far is it from one tooth to the next?",
        how="the tooth spacing p is 1 in / tpi = 25.4 mm / tpi; the teeth in the cut are L / p.",
        because="Each of them takes its share of the feed force; too few and each takes too much.",
        slips=(
            Slip(p / L, "That is p / L: the part of the spacing that the work covers. Turn it over."),
            Slip(L * tpi, "Teeth per inch met millimetres: bring the thickness to inches first."),
            Slip(L / tpi, "The pitch counts teeth, so more of it is more teeth: multiply, after bringing mm to "
                          "inches."),
            Slip(L / 25.4 / tpi, "The pitch counts teeth in an inch, so more of it is more teeth: multiply."),
        ),
    )  # fmt: skip


def _chip_load(lesson: FeedAndTeeth) -> Question:
    d, p, tpi = lesson.numbers, lesson.spacing, lesson.shop.stock.pitch_tpi
    V, F, L = d["speed"], d["feed"], d["plate"]
    load, teeth = float(sawing.chip_load(V, F, p)), float(sawing.teeth_in_cut(L, p))
    return lesson.ask_for(
        "2b", f"The band, {tpi:g} tpi, runs at {lesson.show(V, 'speed')} and the work feeds at "
              f"{lesson.show(F, 'feed_rate')}. What chip load does each tooth take?", "chip_load", load,
        source="arithmetic", nudge="How far does the work move on while one tooth follows the other?",
        how="while one tooth follows the other, p / V, the work moves on by h = F p / V.",
        because="A few thousandths of a millimetre, comparable to the edge's own rounding of 5 to 15 µm (sarwar_2010).",
        slips=(
            Slip(F / V, "That is F / V; it still has to be multiplied by the tooth spacing p."),
            Slip(F * tpi / V, "You used the pitch for the spacing: p = 25.4 mm / tpi."),
            Slip(load * teeth, "That is shared once too little: each tooth removes its own layer, F p / V."),
            Slip(load / teeth, "The teeth in the cut don't share one layer: each takes its own, at its own place."),
        ),
    )  # fmt: skip


def _feed(lesson: FeedAndTeeth) -> Question:
    d, p, tpi = lesson.numbers, lesson.spacing, lesson.shop.stock.pitch_tpi
    V, h = d["speed"], d["goal"]
    rate, teeth = float(sawing.feed_rate(V, h, p)), float(sawing.teeth_in_cut(d["plate"], p))
    return lesson.ask_for(
        "2c", f"What feed rate gives a chip load of {lesson.show(h, 'chip_load')} at that speed?", "feed_rate", rate,
        given=f"A {tpi:g} tpi band at {lesson.show(V, 'speed')}.", source="arithmetic",
        nudge="The same equation as in 2b, with another unknown.",
        how="turn h = F p / V round: F = h V / p.",
        because="A chip load is kept by raising feed and speed together; the machine knows only the feed.",
        slips=(
            Slip(h * V, "That is h V; it has still to be divided by the tooth spacing."),
            Slip(h * V / tpi, "You used the pitch for the spacing: p = 25.4 mm / tpi."),
            Slip(h * V / p * teeth, "Each tooth takes its own layer: the number in the cut does not come in."),
            Slip(h * p / V, "p and V changed places: more speed at the same chip load needs more feed."),
        ),
    )  # fmt: skip


def gullet(lesson: FeedAndTeeth) -> Question:
    """The greatest chip load of a full gullet."""
    L, A = lesson.numbers["block"], lesson.gullet
    full, thinner = (float(sawing.chip_load_at_full_gullet(x, A)) for x in (L, lesson.thickness))
    return lesson.ask_for(
        "2i", f"A block {lesson.show(L, 'length')} thick, gullet area {lesson.show(A, 'gullet_area')}; a loose chip "
              "needs 3 times the room of the metal it was. What is the greatest chip load the gullet holds?",
        "chip_load", full, source="3 times: common practice, no source",
        nudge="One gullet carries all that its tooth peels on the way through the block.",
        how="one tooth peels h L of the side area; loose, that is 3 h L, and it has to fit into the area A.",
        because="In thick work the gullet, not the edge, limits the feed; a coarser pitch has the greater gullet.",
        slips=(
            Slip(3 * full, "That leaves no room between the curls: loose chips need 3 times their metal."),
            Slip(9 * full, "The swelling went to the wrong side: chips need more room, not less."),
            Slip(thinner, "That is for the work of the trial; the block is thicker."),
            Slip(full * L / lesson.spacing, "One gullet collects along the whole of L, not along one spacing."),
        ),
    )  # fmt: skip


def block(lesson: FeedAndTeeth) -> Question:
    """The band to change to for a thick block."""
    L, tpi = lesson.numbers["block"], lesson.shop.stock.pitch_tpi
    teeth = np.array(COARSE) * L / 25.4
    at = int(np.flatnonzero(teeth <= MOST_TEETH)[-1])
    hints = {float(one): f"That has {n:.0f} teeth in the cut, over 24." if n > MOST_TEETH else
             f"That has {n:.1f} teeth in the cut: right, but a finer one also has no more than 24."
             for one, n in zip(COARSE, teeth, strict=True)}  # fmt: skip
    return lesson.ask_for(
        "2j", f"The saw has a {tpi:g} tpi band on; the block is {lesson.show(L, 'length')} thick: wrong band, "
              "change it. "
              f"Which is the finest of {', '.join(f'{one:g}' for one in COARSE)} tpi with at most 24 teeth in the cut?",
        "pitch", float(COARSE[at]), tolerance=0.01, why_tolerance="one of the list",
        nudge=f"How many teeth of {tpi:g} tpi would be in the cut?",
        how="teeth in the cut = thickness x pitch, with the thickness in inches (mm / 25.4).",
        because=f"{tpi:g} tpi would have {tpi * L / 25.4:.0f} in the cut: the feed force is shared among so many that "
                "each only rubs, and the gullets are too small for the length of the cut.",
        source="6 to 12 in solids, 24 at most: common practice, from memory",
        slips=tuple(Slip(one, hint) for one, hint in hints.items() if one != COARSE[at]),
    )  # fmt: skip


def wall(lesson: FeedAndTeeth) -> Question:
    """The coarsest pitch for a thin wall."""
    thin = lesson.numbers["wall"]
    teeth = np.array(PITCHES) * thin / 25.4
    at = int(np.flatnonzero(teeth >= LEAST_TEETH)[0])
    slips = tuple(Slip(float(tpi), too_few(n) if n < LEAST_TEETH else too_many(n))
                  for tpi, n in zip(PITCHES, teeth, strict=True) if tpi != PITCHES[at])  # fmt: skip
    return lesson.ask_for(
        "2k", f"A tube has a wall of {lesson.show(thin, 'length')}. Which is the coarsest pitch out of "
        f"{', '.join(map(str, PITCHES))} tpi with at least 3 teeth in the wall?", "pitch", float(PITCHES[at]),
        tolerance=0.01, why_tolerance="one of the list", source="3 teeth: open_textbook; 2: navy_14119 and others",
        nudge="Three teeth in the wall are how many in an inch?",
        how="teeth in the cut = wall x pitch, with the wall in inches (mm / 25.4); go up the list until it is 3.",
        because="One source asks for 3 teeth, others for 2: where they disagree, the tougher rule costs little.",
        slips=slips,
    )  # fmt: skip


def too_few(teeth: float) -> str:
    """Hint on too coarse a pitch."""
    return f"That leaves {teeth:.1f} teeth in the wall, under 3: a tooth can drop in front of the edge and strip."


def too_many(teeth: float) -> str:
    """Hint on too fine a pitch."""
    return (
        f"That has {teeth:.1f} teeth in the wall, more than it needs, and the smaller gullets for it; "
        "is there a coarser one that will do?"
    )
