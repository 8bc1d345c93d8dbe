"""A fit looked at from all sides: signals, life against speed, priors, residuals, bands the model misses."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import units
from bandtrial.panels import base
from bandtrial.panels.picture import Picture
from bandtrial.plots import evidence, settings, style
from bandtrial.published.speeds import speed_range
from bandtrial.report.figures import band_minutes
from bandtrial.wear.signals import in_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


SPEEDS = 25
DRAWS = 200
CHIPS = {"us": ("0.001 in", "thou", (0.1, 1.6, 0.02), 2), "metric": ("µm", "um", (2, 40, 0.5), 0)}
"""The slider of the chip load in each system: unit in words, unit, least, greatest, step, places of its first value."""
LIFE = "Minutes that one tooth of a typical band spends in the work. Marks: the bands, brought to this job."


class CheckFit(base.Panel):
    """`view` picks the picture; the controls below it are those that the picture has."""

    def __init__(self, fit: Fit, study: Study) -> None:
        self.fit, self.study, self.few = fit, study, fit.thinned(DRAWS)
        wear = fit.wear_used()  # once: it is the slow part of the bands' marks
        self.known = SimpleNamespace(data=fit.data, wear_used=lambda: wear, log_tau=self.few.log_tau)
        self.says = base.Says()
        self.picture = Picture("", height=4.2)
        self.views = {
            "signals over wear used": (self.signals, ("signal",)),
            "life against band speed": (self.life, ("machine", "stock", "material", "thickness", "chip_load")),
            "moved from the priors": (self.priors, ()),
            "residuals": (self.residuals, ("signal",)),
            "bands the model misses": (self.bands, ()),
        }
        self.view = base.choice("view", list(self.views))
        first = fit.data.iloc[0]
        job = {name: first[name] for name in ("machine", "stock", "material")}
        job["thickness"] = units.show(first["work_thickness"], "length", study.units)
        self.controls = {
            "signal": base.choice("signal", [(in_words(name), name) for name in fit.signals]),
            **base.job_controls(study, job),
            "chip_load": self.chip_slider(first["chip_load"]),
        }
        super().__init__([self.view, *self.controls.values(), self.says, self.picture])
        self.view.observe(lambda _: self.picture.margins.clear(), "value")  # each view has labels of its own
        update = base.guarded(self.says, self.update)
        for control in (self.view, *self.controls.values()):
            control.observe(update, "value")
        update()

    def update(self) -> None:
        """Draw the view chosen, with the controls that it asks for."""
        draw, names = self.views[self.view.value]
        for name, control in self.controls.items():
            base.show(control, name in names)
        drawn = False
        try:
            self.picture.draw(draw)
            drawn = True
        finally:
            base.show(self.picture, drawn)

    def chip_slider(self, chip_load: float) -> Any:
        """A slider of chip loads in the unit of the study, set at `chip_load` [um]."""
        words, unit, ends, places = CHIPS[self.study.units]
        here = float(units.from_inside(chip_load, "chip_load", unit))
        return base.slider(f"chip load [{words}]", *ends, round(here, places))

    def signals(self, ax: Axes) -> Any:
        """Draw the chosen signal over wear used; ValueError where no cut has one."""
        if not self.fit.signals:
            raise ValueError("No cut has a sharpness signal. Log motor power, deviation or timed cuts at a set force.")
        self.picture.caption("Readings brought to one setting by the fit, as a multiple of a fresh band's.")
        self.picture.say = self.study.lines.of
        return evidence.fitted_signal(ax, self.fit, self.controls["signal"].value)

    def life(self, ax: Axes) -> Any:
        """Draw band life over band speed for the chosen work, and what its bands did."""
        c = {name: control.value for name, control in self.controls.items()}
        thickness = base.thickness_of(self.controls["thickness"], self.study.machines[c["machine"]], self.study.units)
        names = {name: c[name] for name in ("machine", "stock", "material")}
        group, edge = self.study.materials[c["material"]].group, self.study.band_stock[c["stock"]].edge
        start = speed_range(group, thickness, edge)
        h = float(units.convert(c["chip_load"], CHIPS[self.study.units][1], "chip_load"))
        tried = self.fit.data["band_speed"]
        V = np.geomspace(min(tried.min(), start.low), max(tried.max(), start.high), SPEEDS)
        settings.life_against_speed(ax, V, self.few.log_tau(V, h, thickness, **names), self.study.units)
        mine = SimpleNamespace(machine=c["machine"], material=c["material"], names=names)
        job = SimpleNamespace(thickness=thickness, coolant="flood")
        bands, speeds, minutes, ended = band_minutes(self.known, self.study, mine, h, job)
        self.picture.say = self.study.lines.of_bands
        settings.band_points(ax, speeds, minutes, ended, self.study.units, bands)
        settings.published_start(ax, (start.low, start.typical, start.high), self.study.units)
        style.fewer_log_ticks(ax.yaxis)
        settings.dial(ax, self.study.machines[c["machine"]], self.study.units)
        self.picture.caption(LIFE)
        return style.legend(ax)

    def priors(self, ax: Axes) -> Any:
        """Draw what was believed before beside what the cuts say; ValueError without priors."""
        from bandtrial.report.fit_words import prior_rows

        rows = prior_rows(self.fit, self.study.units)
        if not rows:
            raise ValueError("This fit has no priors: there is nothing to compare with.")
        self.picture.caption(f"The cuts moved {sum(row.moved for row in rows)} of {len(rows)} parameters.")
        return evidence.prior_and_posterior(ax, rows)

    def residuals(self, ax: Axes) -> Any:
        """Draw what the model leaves of the chosen signal, in the order of cutting."""
        signal = self.controls["signal"].value
        rows = self.fit.residuals[self.fit.residuals["signal"] == signal]
        self.picture.caption("Look for a trend inside a band, and for readings far outside the dotted lines.")
        self.picture.say = self.study.lines.of
        return evidence.residuals(ax, rows["z"], rows["band"], in_words(signal), rows["cut"])

    def bands(self, ax: Axes) -> Any:
        """Draw the wear used of each band when last seen."""
        wear = self.known.wear_used()
        ends = self.study.bands.set_index("band")["end"].reindex(wear["band"])
        shape = float(np.median(self.fit.weibull_shape))
        self.picture.caption("Ask about a worn-out band outside the shaded part, or a sound one far beyond it.")
        self.picture.say = self.study.lines.of_bands
        return evidence.wear_at_end(ax, wear, ends, shape)


def check_fit(fit: Fit, study: Study) -> CheckFit:
    """The panel on a `wear.fit` of a study."""
    return CheckFit(fit, study)
