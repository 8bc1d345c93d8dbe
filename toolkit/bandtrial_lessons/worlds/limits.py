"""What a setting truly breaks: the limits that any book of the trade has, on a band newly broken in and half worn."""

from __future__ import annotations

from typing import Any

import numpy as np

from bandtrial_lessons.worlds.longrun import chips, true_speed
from bandtrial_lessons.worlds.physics import Physics

WORN = np.array([0.05, 0.5])
"""Wear at which limits are looked at [-]."""
MOST_CHIP = 50.0
"""Chip load beyond which teeth strip [um]; common practice, no source."""
SLACK = 1.01


def kept(physics: Physics, indicated: Any, feed: Any, slack: float = SLACK) -> dict[str, Any]:
    """Which limits the settings keep (N, n), by name."""
    sheet = physics.sheet
    indicated, feed = np.atleast_1d(np.asarray(indicated, float)), np.atleast_1d(np.asarray(feed, float))
    V = true_speed(physics, indicated)
    h = chips(physics, V, feed, WORN)
    power = physics.power(V[:, :, None], h, WORN[None, None, :], sheet.thickness, sheet.job.force)
    fill = 3.0 * h / 1000 * sheet.thickness / sheet.gullet
    low, high = sheet.feed_range
    there = np.any([(indicated >= a / slack) & (indicated <= b * slack) for a, b in sheet.ranges], axis=0)
    return {
        "band speed": np.broadcast_to(there, V.shape),
        "feed": np.broadcast_to((feed >= low / slack) & (feed <= high * slack), V.shape),
        "motor power": power.max(axis=-1) <= sheet.motor * slack,
        "gullet fill": fill.max(axis=-1) <= slack,
        "chip load": h.max(axis=-1) <= MOST_CHIP * slack,
    }
