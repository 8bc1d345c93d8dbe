"""Published starting figures: tables with sources, and the look-up of starting settings.

`start(...)` is the whole answer for one job; `band_speed` and `band_speeds` the speed alone, for one cut or
for a million; `contour_radius` the smallest curve of a band; `priors` the published figures behind the model.
"""

from bandtrial.published.materials import groups
from bandtrial.published.speeds import band_speed, band_speeds
from bandtrial.published.start import Start, start
from bandtrial.published.tables import CAUTIONS, PublishedError, contour_radius, priors

__all__ = [
    "CAUTIONS", "PublishedError", "Start", "band_speed", "band_speeds", "contour_radius", "groups", "priors", "start",
]  # fmt: skip
