"""What each setting of a trial truly costs, drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from bandtrial import units
from bandtrial.plots import style

from bandtrial_lessons.instructor import rivals

if TYPE_CHECKING:
    from bandtrial_lessons.instructor.reveal import Reveal

TRUTH = (
    "The line is what an area truly costs over band speed, at the chip load that is best in this shop; a mark off it "
    "has another chip load, or changes its bands at another time."
)


def true_cost_over_speed(ax: Any, found: Reveal, speeds: int = 30) -> Any:
    """What each setting truly costs over its true band speed, and the curve of the best chip load; returns ax."""
    job, unit, area = found.job, *(units.display_unit(kind, found.system) for kind in ("speed", "area"))
    per_area = float(units.from_inside(1.0, "area", unit=area))
    V, cost = found.curve(speeds)
    ax.plot(units.from_inside(V, "speed", unit), cost / per_area, color="#333333", linewidth=1.4,
            label="at the best chip load")  # fmt: skip
    for i, (name, speed, at_cost) in enumerate(found.marks()):
        ax.plot(units.from_inside(speed, "speed", unit), at_cost / per_area, label=name,
                **style.points(i) | {"markersize": 8})  # fmt: skip
    ax.set_ylim(0, 1.1 * max([2 * rivals.best_of(job).cost, *(mark[2] for mark in found.marks())]) / per_area)
    ax.set_xlabel(style.axis_label("true band speed", unit))
    ax.set_ylabel(style.axis_label("true cost per area", f"{job.shop.config.currency}/{area}"))
    return style.legend(ax, loc="lower right")
