"""A question that is answered with a setting of the bench: no sign of trouble, at a price near the least."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from bandtrial_lessons.bench import BenchSaw, BenchSetting
from bandtrial_lessons.bench.saw import smallest_radius
from bandtrial_lessons.bench.setting import EDGES, GEARS, PITCHES, WIDTHS, read_setting
from bandtrial_lessons.question import Question, Verdict

if TYPE_CHECKING:
    from bandtrial_lessons.set_up import SetUp

TRIES = 6
"""Settings judged before the task is settled."""
USUAL_TEETH = 6.0
"""Least teeth in solids (common practice, from memory) [-]."""
DEARER = 1.3
"""Cost over the least found on a grid of sound settings, at most [-]."""


@dataclass(frozen=True)
class BenchTask(Question):
    """Judges a setting on its student's saw."""

    saw: BenchSaw | None = None

    @classmethod
    def of(cls, lesson: SetUp, id: str) -> BenchTask:
        return cls(
            id=id,
            text="Set the bench up for the job, then press \"This is my setting\": no sign of trouble, and an "
                 "area at no "
            "more than 1.3 times what it might cost.",
            kind="setting", expected="a sound setting", saw=lesson.saw, system=lesson.system,
            nudge="Put right what ends the cut first.",
            how="width for the curve, teeth for the plate, range for the speed, guide down, tension up; then the feed "
                "until the chip is well above 5 µm, and the speed until the cost is least.",
            because="Every sign has gone, and the price is near the least.",
            source="signs: our saw's own setting, no source",
        )  # fmt: skip

    @property
    def tries(self) -> int:
        return TRIES

    def shown(self, value: object) -> str:
        """A setting in the line it is kept as; for what is expected, one that is right."""
        return best_on_grid(self._saw).text() if value in (None, self.expected) else str(value)

    @property
    def _saw(self) -> BenchSaw:
        assert self.saw is not None
        return self.saw

    def judge(self, answer: str, level: int = 0) -> Verdict:
        try:
            setting = read_setting(answer)
        except ValueError as error:
            return Verdict("unread", f"Can't read that: {error}")
        cut = self._saw.cut(setting, 0.5)
        told = level + 1 >= self.tries
        if cut.signs:
            said = " ".join(sign.text for sign in cut.signs)
            return Verdict(
                "not_yet", said, self.how if level else self.nudge, SIGNS.index(cut.signs[0].id), level + 1, told
            )
        least = self._saw.cut(best_on_grid(self._saw), 0.5).cost
        if cut.cost > DEARER * least:
            return Verdict(
                "not_yet",
                f"It runs well, and an area costs {cut.cost / least:.1f} times what it might.",
                self.how if level else "",
                len(SIGNS),
                level + 1,
                told,
            )
        return self._right("Right, it runs well and costs little.")


SIGNS = ("strip", "packed", "stall", "range", "binds", "off", "rub", "full", "blue", "wander", "many", "slip", "crack",
         "scrape", "bare", "chatter", "grab")  # fmt: skip
"""Ids of the bench's signs, by whose number a setting's slip is kept; one more for too dear."""


@lru_cache(maxsize=64)
def best_on_grid(saw: BenchSaw) -> BenchSetting:
    """The cheapest setting without a sign on a grid of what the books name: the coarsest pitch with 6 teeth in the
    work, regular ones in iron and steel (textbook_gw)."""
    width = max(w for w in WIDTHS if smallest_radius(w) <= saw.work.radius)
    pitch = next(pitch for pitch in PITCHES if pitch * saw.work.thickness / 25.4 >= USUAL_TEETH)
    plain = BenchSetting(pitch=pitch, width=width, guide=4.0, tension=200.0, set="wave" if saw.work.hollow else "raker")
    tried: list[tuple[float, BenchSetting]] = []
    for edge, (gear, ends) in product(EDGES, GEARS.items()):
        band = replace(plain, edge=edge, gear=gear)
        speed, feed = (x.ravel() for x in np.meshgrid(np.geomspace(*ends, 9), np.geomspace(10.0, 390.0, 12)))
        cost = saw.in_the_long_run(band, speed, feed)[2]
        tried += [(float(c), replace(band, speed=float(V), feed_rate=float(F)))
                  for c, V, F in zip(cost, speed, feed, strict=True)]  # fmt: skip
    tried.sort(key=lambda one: one[0])
    return next((one for _, one in tried if saw.cut(one, 0.5).sound), plain)
