"""All laws of N worlds together. Settings broadcast behind the axis of the worlds: (N, ...).

Wear W grows by contact minutes over tau; W = 1 is a typical life. A tooth's cutting force, in N per mm of kerf,

    F(h, W) = F10 ((1 - e) u + e + g(W) (s + (1 - s) u)),     u = (h/10 um)^c,

e the sharp edge's own share at 10 um, g what wear has added there, s the share of that which is the edge's own. The
feed force is r(W) F; at a set feed force u follows from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from bandtrial_lessons.worlds import forms
from bandtrial_lessons.worlds.forms import H0
from bandtrial_lessons.worlds.latent import Array
from bandtrial_lessons.worlds.laws import CONSTANTS
from bandtrial_lessons.worlds.sheet import Sheet

SLOW = 0.15
"""Share of a new band's chip under which a band at a set force is taken off: it cuts no more."""
LEAST_CHIP = 0.3
"""What a set force still cuts where the edge takes all of it [um]."""


@dataclass(frozen=True)
class Physics:
    """Constants (N,) of N worlds that share a sheet."""

    constants: dict[str, Array]
    sheet: Sheet

    @classmethod
    def of(cls, u: Array, sheet: Sheet) -> Physics:
        """Of latent points u (N, d)."""
        c = CONSTANTS.values(u)
        swap = (c["end_form"] == 3) & (c["deviation_form"] == 3)
        c["deviation_form"] = np.where(swap, 0.0, c["deviation_form"])  # an end by deviation needs one that grows
        return cls(c, sheet)

    def __len__(self) -> int:
        return len(self.constants["life"])

    def take(self, i: Any) -> Physics:
        """The worlds i."""
        return Physics({name: value[i] for name, value in self.constants.items()}, self.sheet)

    def shaped(self, axes: int) -> dict[str, Any]:
        """The constants as (N, 1, ..., 1) with `axes` axes behind the first."""
        return {name: value.reshape(-1, *[1] * axes) for name, value in self.constants.items()}

    def metal(self, c: dict[str, Any], what: str, metal: Any) -> Any:
        """Effect of the metals 0, 1, 2 on the log of `what`: life or force."""
        metal = np.asarray(metal)
        return np.where(metal == 1, c[f"{what}_1"], np.where(metal == 2, c[f"{what}_2"], 0.0))

    def wear_rate(self, x: Any, h: Any, L: Any, metal: Any = 0) -> Any:
        """Wear per contact minute of an ordinary band [1/min] at x = V/V*, h [um], L [mm]; all (N or 1, ...)."""
        c = self.shaped(np.ndim(h) - 1)
        rate = forms.pick(c["speed_form"], forms.SPEED_FORMS, c, x)
        rate = rate * forms.pick(c["chip_form"], forms.CHIP_FORMS, c, h)
        thick = (np.asarray(L) / self.sheet.thickness) ** c["thickness_power"]
        return rate * thick / c["life"] * np.exp(-self.metal(c, "life", metal))

    def grown(self, c: dict[str, Any], W: Any) -> tuple[Any, Any]:
        """What wear has added at 10 um, over F10, and the share of it that is the edge's own."""
        g = c["dulling"] * forms.pick(c["dulling_form"], forms.DULLING_FORMS, c, W)
        return g, forms.pick(c["share_form"], forms.SHARE_FORMS, c, W)

    def force(self, h: Any, W: Any, guess: Any, metal: Any = 0) -> Any:
        """Cutting force of a tooth [N per mm of kerf]; guess: of the sheet, F10 over the world's own factor."""
        c = self.shaped(np.ndim(h * W) - 1)
        u, (g, s) = (h / H0) ** c["chip_exponent"], self.grown(c, W)
        e = c["sharp_edge"]
        return guess * c["force"] * np.exp(self.metal(c, "force", metal)) * ((1 - e) * u + e + g * (s + (1 - s) * u))

    def ratio(self, W: Any) -> Any:
        """Feed force over cutting force r(W) = r0 + a (0.9 - r0) min(W, 1)."""
        c = self.shaped(np.ndim(W) - 1)
        return c["ratio"] + c["ratio_growth"] * (0.9 - c["ratio"]) * np.minimum(W, 1.0)

    def chip_at_force(self, feed_force: Any, W: Any, L: Any, guess: Any, metal: Any = 0) -> Any:
        """Chip load [um] that a feed force [N] gives."""
        axes = np.ndim(feed_force * W) - 1
        c = self.shaped(axes)
        tooth = feed_force / (np.asarray(L) / self.sheet.spacing) / self.sheet.kerf
        full = guess * c["force"] * np.exp(self.metal(c, "force", metal)) * self.ratio(W)
        (g, s), e = self.grown(c, W), c["sharp_edge"]
        u = (tooth / full - e - g * s) / (1 - e + g * (1 - s))
        least = (LEAST_CHIP / H0) ** c["chip_exponent"]
        return np.maximum(H0 * np.maximum(u, least) ** (1 / c["chip_exponent"]), LEAST_CHIP)

    def slowed(self, feed_force: Any, W: Any, L: Any, guess: Any, metal: Any = 0) -> Any:
        """Log of SLOW times a new band's chip load over that at wear W, at a set force: above 0 it cuts no more."""
        new = self.chip_at_force(feed_force, np.zeros_like(W), L, guess, metal)
        return np.log(SLOW * new / self.chip_at_force(feed_force, W, L, guess, metal))

    def power(self, V: Any, h: Any, W: Any, L: Any, guess: Any, metal: Any = 0) -> Any:
        """Motor power [W] above idle at true speed V [m/min]."""
        c = self.shaped(np.ndim(h * W) - 1)
        job = self.sheet.job
        teeth, usual = np.asarray(L) / self.sheet.spacing, self.sheet.thickness / self.sheet.spacing
        rub = c["friction"] * job.force * usual * self.sheet.kerf  # N at the rim
        return (self.force(h, W, guess, metal) * teeth * self.sheet.kerf + rub) * V / 60 / 0.8

    def deviation(self, x: Any, h: Any, W: Any, L: Any) -> Any:
        """Deviation [mm] of an ordinary band; thick work (L/L_job)^1."""
        c = self.shaped(np.ndim(h * W) - 1)
        thick = np.asarray(L) / self.sheet.thickness
        new = c["deviation"] * (h / H0) ** c["deviation_chip"] * x ** c["deviation_speed"] * thick
        return new * forms.pick(c["deviation_form"], forms.DEVIATION_FORMS, c, W)

    def deviation_limit(self) -> Array:
        """Level of deviation [mm] at which a band is taken off where that is the world's end."""
        c = self.constants
        worn = forms.pick(c["deviation_form"], forms.DEVIATION_FORMS, c, np.ones(1))
        return np.asarray(c["deviation"] * c["deviation_end"] * worn)
