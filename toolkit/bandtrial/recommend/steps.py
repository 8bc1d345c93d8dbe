"""The size of a step beyond what was tried, in words."""

from __future__ import annotations

import numpy as np

PARTS = {0.1: "a tenth", 0.125: "an eighth", 0.2: "a fifth", 0.25: "a quarter", 1 / 3: "a third", 0.5: "half"}
NEAR, NOTHING = 0.012, 0.01
"""How near a part may be for its name to be used; and steps that are none."""
INSIDE = "inside what was tried"


def part(share: float) -> str:
    """A share in words.

    >>> part(0.25), part(0.07), part(1.4)
    ('a quarter', '7 %', '140 %')
    """
    return next((word for size, word in PARTS.items() if abs(share - size) <= NEAR), f"{100 * share:.0f} %")


def step_words(job, region, band_speed: float, bite: float) -> str:
    """How far a setting is beyond what was tried, in speed and in feed per tooth; `INSIDE` if it is not."""
    feed = "feed force" if job.feed == "force" else "feed per tooth"
    parts = [
        _beyond(np.log(band_speed / job.published_speed), region.speed, "faster", "slower"),
        _beyond(np.log(bite), region.bite, f"more {feed}", f"less {feed}"),
    ]
    said = " and ".join(part for part in parts if part)
    return f"{said} than anything tried" if said else INSIDE


def _beyond(at: float, tried, more: str, less: str) -> str:
    up, down = float(np.expm1(at - tried[1])), float(-np.expm1(at - tried[0]))
    if up > NOTHING:
        return f"{part(up)} {more}"
    return f"{part(down)} {less}" if down > NOTHING else ""
