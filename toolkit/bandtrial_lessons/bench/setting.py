"""What can be chosen at the bench, and the work on its table."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from math import inf

PITCHES = (2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 14.0, 18.0, 24.0)
"""[tpi]; common in band stock, no source."""
WIDTHS = (3.175, 6.35, 9.525, 12.7, 19.05, 25.4)
"""1/8 to 1 in [mm]; of the contour chart."""
FORMS, SETS = ("regular", "skip", "hook"), ("raker", "wave", "straight")
EDGES = ("carbon", "bimetal", "carbide")
GEARS = {"low": (10.0, 60.0), "high": (45.0, 220.0)}
"""Band speeds of each range [m/min]; our saw's own setting."""
FEEDS = ("set", "weight", "hand")
CHOICES = {"pitch": PITCHES, "form": FORMS, "set": SETS, "width": WIDTHS, "edge": EDGES, "gear": tuple(GEARS),
           "feed": FEEDS}  # fmt: skip
ENDS = {"speed": (10.0, 220.0), "feed_rate": (2.0, 400.0), "weight": (20.0, 1200.0), "guide": (2.0, 100.0),
        "tension": (60.0, 330.0)}  # fmt: skip
"""Least and greatest of what is set by slider: m/min, mm/min, N, mm, N/mm2."""


@dataclass(frozen=True)
class BenchWork:
    """What is sawn. thickness [mm]; radius of the tightest curve [mm], inf for straight cuts; hollow: tube or thin
    wall."""

    thickness: float
    radius: float = inf
    hollow: bool = False


@dataclass(frozen=True)
class BenchSetting:
    """Everything that is chosen. speed [m/min]; feed_rate [mm/min], of the set feed and of a hand on average; weight
    [N]; guide: upper guide above the work [mm]; tension [N/mm2]."""

    pitch: float = 6.0
    form: str = "regular"
    set: str = "raker"
    width: float = 19.05
    edge: str = "bimetal"
    gear: str = "high"
    speed: float = 60.0
    feed: str = "set"
    feed_rate: float = 80.0
    weight: float = 250.0
    guide: float = 5.0
    tension: float = 170.0
    broken_in: bool = True

    def text(self) -> str:
        """The setting in one line, from which it can be read again."""
        return json.dumps(asdict(self), sort_keys=True)


def read_setting(text: str) -> BenchSetting:
    """A setting from its line; ValueError if it is none, or can't be set."""
    try:
        given = json.loads(text)
        plain = asdict(BenchSetting())
        setting = BenchSetting(**{name: type(value)(given[name]) for name, value in plain.items()})
    except (ValueError, KeyError, TypeError):
        raise ValueError("that is no setting of the bench; press the button below it.") from None
    wrong = [name for name, known in CHOICES.items() if getattr(setting, name) not in known]
    wrong += [name for name, (low, high) in ENDS.items() if not low <= getattr(setting, name) <= high]
    if wrong:
        raise ValueError(f"{', '.join(wrong)}: the bench can't be set so.")
    return setting
