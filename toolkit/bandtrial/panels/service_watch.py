"""Bands in service: how worn each is, what it has left, and the control chart of any band or machine."""

from __future__ import annotations

import html
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from bandtrial.disk import make_folder
from bandtrial.panels import base
from bandtrial.panels.picture import Picture
from bandtrial.plots import evidence
from bandtrial.report import watch_sheet
from bandtrial.study import cut_table
from bandtrial.watch import charts, watch
from bandtrial.watch.charts import readings
from bandtrial.wear.signals import in_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


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
        self.picture = Picture(WEAR_CAPTION, height=3.4, words=study.lines.of)
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
