"""A fit looked at from all sides (signals, life against speed, priors, residuals, bands the model misses); and bands
in service: how worn each is, what it has left, and the control chart of any band or machine.
"""

from __future__ import annotations

import html
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets
import numpy as np

from bandtrial import units
from bandtrial.disk import make_folder
from bandtrial.panels import base
from bandtrial.plots import evidence, settings, style
from bandtrial.published.speeds import speed_range
from bandtrial.report import watch_sheet
from bandtrial.report.figures import band_minutes
from bandtrial.report.fit_words import prior_rows
from bandtrial.study import cut_table
from bandtrial.watch import charts, watch
from bandtrial.watch.charts import readings
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
        self.picture = base.Picture("", height=4.2)
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


WEAR = "wear used, every band"
WEAR_CAPTION = "At 1 a typical band is worn out; bars are the middle of what is likely, lines the 80 % interval."
PAST = "past forecasts, against what came"
PAST_CAPTION = "Each mark is a forecast of a band that has ended; lines are its 80 % interval."
CHART_CAPTION = (
    "Every reading pushes the sum up or down by how far it lies from what the fit expects; beyond a dotted line the "
    "alarm rings."
)


class WatchBands(base.Panel):
    """`watch` is the watch shown; `chart` picks the picture, alarms that ring now first."""

    def __init__(self, fit: Any, study: Any, folder: str | Path) -> None:
        cuts = cut_table(study)
        self.study, self.folder = study, Path(folder)
        self.watch = watch(fit, study, cuts=cuts)
        every = readings(fit, cuts[cuts["operation"] == "sawing"])
        running = {band.band for band in self.watch.bands}
        self.readings: dict[Any, Any] = {  # those of a band in service, or of a machine, with one signal: a chart each
            (kind, name, signal): mine
            for kind in ("band", "machine")
            for (name, signal), mine in every.groupby([kind, "signal"], sort=False)
            if kind == "machine" or name in running
        }
        ringing = [(alarm.kind, alarm.name, alarm.signal) for alarm in self.watch.alarms if alarm.now]
        order = sorted(self.readings, key=lambda key: ringing.index(key) if key in ringing else len(ringing))
        names = [(chart_name(*key) + (": ALARM" if key in ringing else ""), key) for key in order]
        first = [(WEAR, WEAR)] if self.watch.bands else []
        self.forecasts = self.watch.score.past if self.watch.score else ()
        first += [(PAST, PAST)] if self.forecasts else []
        self.chart = base.choice("picture", [*first, *names])
        self.says = base.Says()
        self.picture = base.Picture(WEAR_CAPTION, height=3.4, words=study.lines.of)
        heads, lines = watch_sheet.table(study, self.watch)
        answer = widgets.HTML(
            base.table(heads, lines, "What the bands in service have left (80 % intervals)")
            + base.spaced("".join(f"<p>{html.escape(text)}</p>" for text in watch_sheet.sentences(self.watch)))
        )
        self.saved, self.save = base.Says(), base.button("Save watch sheet", "write the bands in service on a page")
        self.save.on_click(base.guarded(self.saved, self.save_sheet))
        parts = [self.chart, self.says, self.picture, answer, base.cautions(), self.save, self.saved]
        super().__init__(parts)
        self.chart.observe(base.guarded(self.says, self.draw), "value")
        base.guarded(self.says, self.draw)()

    def draw(self) -> None:
        """Draw what is chosen; ValueError where there is nothing to draw yet."""
        base.show(self.picture, self.chart.value is not None)
        if self.chart.value is None:  # nothing to choose from
            raise ValueError("No band is in service and no reading is logged: there is nothing to draw yet.")
        self.picture.margins.clear()  # each picture has labels of its own
        drawn = {WEAR: (WEAR_CAPTION, self.wear), PAST: (PAST_CAPTION, self.past)}
        caption, draw = drawn.get(self.chart.value, (CHART_CAPTION, self.control_chart))
        self.picture.caption(caption)
        self.picture.draw(draw)

    def save_sheet(self) -> None:
        """Save the sheet for the saws, and say where."""
        make_folder(self.folder)
        out = watch_sheet.write_watch_sheet(self.watch, self.study, self.folder / "bands_in_service.html")
        self.saved.saved(out, "print it for the saws.")

    def past(self, ax: Axes) -> Any:
        """Past forecasts against the ends that came, on `ax`."""
        return evidence.past_forecasts(ax, self.forecasts)

    def wear(self, ax: Axes) -> Any:
        """Wear used of the bands in service, on `ax`."""
        return evidence.wear_used(ax, self.watch.bands[: watch_sheet.MOST_BANDS])

    def control_chart(self, ax: Axes) -> Any:
        """The control chart of the band or machine chosen, on `ax`."""
        rows = self.readings[self.chart.value]
        upper, lower = charts.cumulative_sums(rows["score"].to_numpy(float))
        name = chart_name(*self.chart.value)
        return evidence.chart(ax, upper, lower, self.watch.limit, list(rows["cut"].astype(str)), name)


def chart_name(kind: str, name: str, signal: str) -> str:
    """A chart in words.

    >>> chart_name("band", "B10", "motor_power")
    'band B10: motor power'
    """
    return f"{kind} {name}: {in_words(signal)}"


def watch_bands(fit: Fit, study: Study, sheets: str | Path = ".") -> WatchBands:
    """The panel on a `wear.fit` of a study. Watch sheets go into the folder `sheets`."""
    return WatchBands(fit, study, sheets)
