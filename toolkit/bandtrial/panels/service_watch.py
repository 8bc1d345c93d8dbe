"""Bands in service: how worn each is, what it has left, and the control chart of any band or machine."""

import html

import ipywidgets as widgets

from bandtrial.panels import base
from bandtrial.panels.picture import Picture
from bandtrial.plots import service, signals
from bandtrial.report import watch_words
from bandtrial.study import cut_table
from bandtrial.watch import charts, watch
from bandtrial.watch.alarms import readings
from bandtrial.wear.signals import in_words

WEAR = "wear used, every band"
WEAR_CAPTION = "At 1 a typical band is worn out; bars are the middle of what is likely, lines the 80 % interval."
CHART_CAPTION = (
    "Every reading pushes the sum up or down by how far it lies from what the fit expects; beyond a dotted line the "
    "alarm rings."
)


class WatchBands(base.Panel):
    """`watch` is the watch shown; `chart` picks the picture, alarms that ring now first."""

    def __init__(self, fit, study) -> None:
        cuts = cut_table(study)
        self.watch = watch(fit, study, cuts=cuts)
        rows = readings(fit, cuts[cuts["operation"] == "sawing"])
        running = {band.band for band in self.watch.bands}
        self.rows = {
            (kind, name, signal): mine
            for kind in ("band", "machine")
            for (name, signal), mine in rows.groupby([kind, "signal"], sort=False)
            if kind == "machine" or name in running
        }
        ringing = [(a.kind, a.name, a.signal) for a in self.watch.alarms if a.now]
        order = [*(key for key in ringing if key in self.rows), *(key for key in self.rows if key not in ringing)]
        names = [(chart_name(*key) + (": ALARM" if key in ringing else ""), key) for key in order]
        first = [(WEAR, WEAR)] if self.watch.bands else []
        self.chart = base.choice("picture", [*first, *names])
        self.says = base.Says()
        self.picture = Picture(WEAR_CAPTION, 7.6, 3.2)
        heads, lines = watch_words.table(study, self.watch)
        answer = widgets.HTML(
            base.table(heads, lines, "What the bands in service have left (80 % intervals)")
            + base.spaced("".join(f"<p>{html.escape(text)}</p>" for text in watch_words.sentences(self.watch)))
        )
        super().__init__([self.chart, self.says, self.picture, answer, base.cautions()])
        self.chart.observe(base.guarded(self.says, self.draw), "value")
        base.guarded(self.says, self.draw)()

    def draw(self) -> None:
        base.show(self.picture, self.chart.value is not None)
        if self.chart.value is None:  # nothing to choose from
            raise ValueError("No band is in service and no reading is logged: there is nothing to draw yet.")
        self.picture.margins.clear()  # each picture has labels of its own
        wear = self.chart.value == WEAR
        self.picture.caption(WEAR_CAPTION if wear else CHART_CAPTION)
        self.picture.draw(self.wear if wear else self.control_chart)

    def wear(self, ax):
        bands = self.watch.bands[: watch_words.MOST_BANDS]
        ringing = [one.band for one in bands if any(alarm.now for alarm in one.alarms)]
        middle, low, high = zip(*((b.wear_used, b.wear_used_low, b.wear_used_high) for b in bands), strict=True)
        return service.wear_used(ax, [one.band for one in bands], middle, low, high, ringing)

    def control_chart(self, ax):
        rows = self.rows[self.chart.value]
        upper, lower = charts.cumulative_sums(rows["score"].to_numpy(float))
        name = chart_name(*self.chart.value)
        return signals.chart(ax, upper, lower, self.watch.limit, list(rows["cut"].astype(str)), name)


def chart_name(kind: str, name: str, signal: str) -> str:
    """A chart in words.

    >>> chart_name("band", "B10", "motor_power")
    'band B10: motor power'
    """
    return f"{kind} {name}: {in_words(signal)}"


def watch_bands(fit, study) -> WatchBands:
    """The panel on a `wear.fit` of a study."""
    return WatchBands(fit, study)
