"""Smallest radius that a band of a width can follow."""

import numpy as np

from bandtrial.published.tables import PublishedError, lines
from bandtrial.units import convert


def contour_chart() -> tuple[np.ndarray, np.ndarray]:
    """Band widths and their smallest radii [mm], narrow to wide. Common practice, from memory."""
    rows = [(line["band_width_in"], line["min_radius_in"]) for line in lines("contour_radius")]
    width, radius = convert(np.array(rows, dtype=float).T, "in", "length")
    return width, radius


def contour_radius(width_mm: float) -> float:
    """Smallest contour radius [mm] of a band of width w [mm]: straight in log w and log r on the chart.

    Raises `PublishedError` outside the chart (1/8 to 1 in). Common practice, from memory.

    >>> contour_radius(12.7) / 25.4
    2.5
    """
    width, radius = contour_chart()
    if not width[0] * (1 - 1e-9) <= width_mm <= width[-1] * (1 + 1e-9):
        raise PublishedError(
            f"band width {width_mm:g} mm is outside the contour chart, {width[0]:g} to {width[-1]:g} mm "
            "(1/8 to 1 in); cut a curve with a band of the chart, or a straight line with a wider one."
        )
    return float(np.exp(np.interp(np.log(width_mm), np.log(width), np.log(radius))))
