"""The sharpness signals: what may be measured at a cut and grow as the band dulls.

A new signal is one entry of `SIGNALS`. Its logarithm is modelled as

    log y = level + level[material] + level[machine] + powers . log covariates + edge (c*/c - 1) + level[band]
            + rise(u) + noise,

u the edge's own growth and rise(u) the law by which that raises the log, as `terms` state them; noise is Student t. A
sharp edge takes a force too, so that a light chip costs more than a power of c says: by edge (c*/c - 1), which is
log(chip + edge), or -log(feed force - edge), to first order.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Signal:
    """One kind of signal; its priors are the rows `NAME.level`, `NAME.power[...]`, `NAME.edge[...]`, `NAME.dulling`,
    `NAME.dulling[...]`, `NAME.growth_power`, `NAME.break_in`, `NAME.noise` and `NAME.band` of
    published/model_priors.csv."""

    name: str  # as reported
    column: str  # of the cut table
    unit: str  # inside unit of the column
    feeds: tuple[str, ...]  # feed modes in which it says something about dulling
    powers: tuple[str, ...]  # covariates
    shares: tuple[str, str] | None = None  # feed mode and covariate by which the share of dulling changes
    edge: str | None = None  # covariate c of what a sharp edge takes for itself
    at_the_saw: bool = True  # read at each cut, not later at a bench
    inverse: bool = False  # the column is what the edge leaves: its inverse is the signal


SIGNALS = (
    Signal(
        "motor_power", "motor_power", "W", ("rate",), ("band_speed", "chip_load", "work_thickness"),
        ("rate", "chip_load"), edge="chip_load",
    ),
    Signal(
        "feed_force", "feed_force", "N", ("rate",), ("band_speed", "chip_load", "work_thickness"),
        ("rate", "chip_load"), edge="chip_load",
    ),
    Signal(
        "chip_load", "chip_load", "um", ("force",), ("force_per_tooth", "band_speed", "work_thickness"),
        ("force", "force_per_tooth"), edge="force_per_tooth", inverse=True,
    ),
    Signal(
        "deviation",
        "deviation",
        "mm",
        ("rate", "force"),
        ("band_speed", "chip_load", "work_thickness"),
        ("rate", "chip_load"),
    ),
    Signal(
        "roughness",
        "roughness",
        "um",
        ("rate", "force"),
        ("band_speed", "chip_load", "work_thickness"),
        at_the_saw=False,
    ),
)  # fmt: skip
BY_NAME = {s.name: s for s in SIGNALS}

FED_AS = {"rate": "rate", "force": "force", "hand": "rate"}
"""Feed mode of the signals, by how a machine is fed: a hand holds a rate."""
BY_FEED = {feed: tuple(s.name for s in SIGNALS if mode in s.feeds) for feed, mode in FED_AS.items()}
"""Signals by how a machine is fed."""


def in_words(signal: str) -> str:  # fmt: skip
    """A signal as people call it.

    >>> in_words("motor_power")
    'motor power'
    """  # fmt: skip
    return signal.replace("_", " ")
