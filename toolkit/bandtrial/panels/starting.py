"""Published starting settings for a material, thickness, edge and coolant, followed as they are chosen."""

from typing import Any

import ipywidgets as widgets

from bandtrial import published, units
from bandtrial.panels import base
from bandtrial.plots import settings
from bandtrial.published.speeds import speed_range
from bandtrial.published.start import OPERATIONS
from bandtrial.sawing import COOLANTS, EDGES

SYSTEMS = {"US units": "us", "metric": "metric"}
CAPTION = (
    "Left: each source as it is printed, for the edge and thickness that it names; the line is the start for this job, "
    "worked out from the source named above. Right: how that start follows the work thickness."
)
THICKNESSES = [units.convert(inches, "in", "length") for inches in (0.06, 0.25, 0.75, 1.25, 2.5, 4, 8, 12)]


class StartingSettings(base.Panel):
    """`start` is the published start shown now (a `published.Start`), None while an entry can't be read."""

    def __init__(self, material: str, thickness: str, edge: str, system: str) -> None:
        self.start: published.Start | None = None
        self.says = base.Says()
        self.material = base.choice("material group", published.groups(), material)
        self.thickness = base.text("work thickness", thickness, 'as "5/8 in" or "16 mm"')
        self.edge = base.choice("edge", EDGES, edge)
        self.coolant = base.choice("coolant", COOLANTS, "flood")
        self.operation = base.choice("operation", list(OPERATIONS))
        self.system = base.choice("units", list(SYSTEMS.items()), system)
        self.picture = base.Picture(CAPTION, height=3.6, columns=2)
        self.answer = widgets.HTML()
        self.controls = (self.material, self.thickness, self.edge, self.coolant, self.operation, self.system)
        super().__init__([widgets.VBox(self.controls), self.says, self.answer, self.picture])
        update = base.guarded(self.says, self.update)
        for control in self.controls:
            control.observe(update, "value")
        update()

    def update(self) -> None:
        """Show the new start in one go; where there is none, no old one stays."""
        self.start = None
        try:
            self.show()
        finally:
            base.show(self.picture, self.start is not None)
            if self.start is None:
                self.answer.value = ""

    def show(self) -> None:
        """Work out the start for what the controls say, and show it."""
        system = self.system.value
        thickness = base.read(self.thickness, "length")
        if thickness is None:
            self.says.note('Give the work thickness with its unit, as "5/8 in".')
            return
        job = self.material.value, thickness, self.edge.value, self.coolant.value
        start = published.start(*job, system=system, operation=self.operation.value)
        self.picture.draw(lambda axes: self.paint(axes, start.settings))
        self.start, self.answer.value = start, base.spaced(start._repr_html_())

    def paint(self, axes: Any, chosen: Any) -> None:
        """Both drawings: each source as printed, and the start over work thickness."""
        system = self.system.value
        speed = chosen.speed
        settings.sources(axes[0], source_lines(chosen), (speed.low, speed.typical, speed.high), system)
        curve = [
            speed_range(self.material.value, thickness, self.edge.value, self.coolant.value)
            for thickness in THICKNESSES
        ]
        lines = [[getattr(at, end) for at in curve] for end in ("low", "typical", "high")]
        settings.over_thickness(axes[1], THICKNESSES, lines, chosen.thickness, system)


def source_lines(chosen: Any) -> list[tuple[str, float, float, str]]:
    """Label, low and high [m/min] and how it is known of each published line on the material, as printed."""
    return [
        (
            f"{row.source}: {', '.join(row.grades)}",
            units.convert(row.low, "ft/min", "speed"),
            units.convert(row.high, "ft/min", "speed"),
            row.how_known,
        )
        for row in (*chosen.match.rows, *chosen.match.others)
    ]


def starting_settings(
    material: str = "low-carbon steel", thickness: str = "5/8 in", edge: str = "carbon", system: str = "us"
) -> StartingSettings:
    """The panel, opened on a material group, a work thickness with its unit, an edge, a system of units."""
    return StartingSettings(material, thickness, edge, system)
