"""Published starting figures: tables with sources, and the look-up of starting settings."""

from bandtrial.published.cautions import CAUTIONS
from bandtrial.published.materials import groups
from bandtrial.published.speeds import band_speed, band_speeds
from bandtrial.published.tables import PublishedError, priors

__all__ = ["CAUTIONS", "PublishedError", "band_speed", "band_speeds", "groups", "priors"]
