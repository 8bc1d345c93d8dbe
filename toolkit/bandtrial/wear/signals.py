"""The sharpness signals: what may be measured at a cut and grow as the band dulls; and what the parameters are called,
in words, with the symbol of the model's mathematics, and what explains them.

A new signal is one entry of `SIGNALS`. Its logarithm is modelled as

    log y = level + level[material] + level[machine] + powers . log covariates + edge (c*/c - 1) + level[band]
            + rise(u) + noise,

u the edge's own growth and rise(u) the law by which that raises the log, as `terms` state them; noise is Student t. A
sharp edge takes a force too, so that a light chip costs more than a power of c says: by edge (c*/c - 1), which is
log(chip + edge), or -log(feed force - edge), to first order.
"""

from dataclasses import dataclass
from typing import NamedTuple

from .terms import BENDS, GROWTH, WEAR_END


@dataclass(frozen=True)
class Signal:
    """One kind of signal; its priors are the rows `NAME.level`, `NAME.power[...]`, `NAME.edge[...]`, `NAME.dulling`,
    `NAME.dulling[...]`, `NAME.growth_power`, `NAME.break_in`, `NAME.noise` and `NAME.band` of
    published/model_priors.csv."""

    name: str  # as reported
    column: str  # of the cut table
    unit: str  # inside unit of the column
    feeds: tuple[str, ...]  # feed modes in which it says something about dulling
    powers: tuple[str, ...] = ("band_speed", "chip_load", "work_thickness")  # covariates
    shares: tuple[str, str] | None = None  # feed mode and covariate by which the share of dulling changes
    edge: str | None = None  # covariate c of what a sharp edge takes for itself
    at_the_saw: bool = True  # read at each cut, not later at a bench
    inverse: bool = False  # the column is what the edge leaves: its inverse is the signal


SIGNALS = (
    Signal("motor_power", "motor_power", "W", ("rate",), shares=("rate", "chip_load"), edge="chip_load"),
    Signal("feed_force", "feed_force", "N", ("rate",), shares=("rate", "chip_load"), edge="chip_load"),
    Signal(
        "chip_load", "chip_load", "um", ("force",), ("force_per_tooth", "band_speed", "work_thickness"),
        ("force", "force_per_tooth"), edge="force_per_tooth", inverse=True,
    ),
    Signal("deviation", "deviation", "mm", ("rate", "force"), shares=("rate", "chip_load")),
    Signal("roughness", "roughness", "um", ("rate", "force"), at_the_saw=False),
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


class Called(NamedTuple):
    """A parameter in words, its symbol, and what else helps to read it."""

    words: str
    symbol: str = ""
    why: str = ""


_OF_TERMS = {p.name: Called(p.words, p.symbol) for p in (*GROWTH.parameters, *WEAR_END.parameters)}
LIFE = {
    "taylor_n": Called("Taylor’s n", "", "V Tⁿ = C, n = 1/m"),
    "speed_exponent": Called("speed exponent", "m", "life falls as V to this power"),
    "chip_load_exponent": Called("chip-load exponent", "a"),
    "thickness_exponent": Called("thickness exponent", "b"),
    "weibull_shape": _OF_TERMS["weibull_shape"],
    "log_scale": Called("log wear life at the published start", "a₀"),
    "band_scatter": Called("scatter of bands’ own log wear rates"),
    "break_cycles": Called("bending cycles to a break", "N₀"),
    "break_shape": Called("Weibull shape of the breaks", "S"),
    "break_in_length": _OF_TERMS["break_in_length"],
}
"""The parameters of a band's life that are read before all others."""
OTHERS = {
    **_OF_TERMS,
    **{bend.name: Called(f"loss of life beside, {bend.words}") for bend in BENDS},
    "level": Called("level"),
    "noise": Called("scatter from cut to cut"),
    "band": Called("scatter of bands’ own levels"),
}
WITHIN = {
    "material": "log life of {}",
    "machine": "log life of machine {}",
    "stock": "log life of band stock {}",
    "coolant": "log life with coolant {}",
    "spread": "spread of the log life between {}s",
    "speed_exponent": "speed exponent m of {} edges",
    "level": "level of {}",
    "power": "power of the {}",
    "edge": "what a sharp edge takes by itself, with 1 over the {}",
    "dulling": "power d of the {} in the share of dulling",
}
"""The same where a name stands behind them in brackets: of a part of the shop, or of a covariate."""
COVARIATE = ("power", "edge", "dulling")


def of_signal(name: str) -> tuple[str, str]:
    """The signal that a parameter belongs to, in words, "" for one of band life, and what it is there.

    >>> of_signal("motor_power.noise"), of_signal("thickness_exponent")
    (('motor power', 'scatter from cut to cut'), ('', 'thickness exponent b'))
    """
    signal, _, part = name.partition(".")
    if signal not in BY_NAME:
        signal, part = "", name
    if called := LIFE.get(part) or OTHERS.get(part):
        return in_words(signal), f"{called.words} {called.symbol}".strip()
    kind, _, inner = part.rstrip("]").partition("[")
    of = in_words(inner) if kind in COVARIATE else inner
    return in_words(signal), WITHIN[kind].format(of) if kind in WITHIN else in_words(part)


def short(name: str) -> str:
    """A parameter's name in words.

    >>> short("material[plate_304]"), short("motor_power.power[chip_load]"), short("spread[machine]")
    ('log life of plate_304', 'motor power: power of the chip load', 'spread of the log life between machines')
    >>> short("motor_power.dulling[chip_load]"), short("motor_power.break_in")
    ('motor power: power d of the chip load in the share of dulling', 'motor power: fast first rise of a new band j')
    """
    return ": ".join(filter(None, of_signal(name)))


def plain(name: str) -> str:
    """The same with what explains it.

    >>> plain("speed_exponent"), plain("chip_load_bend[18 um]")
    ('speed exponent m: life falls as V to this power', 'loss of life beside, chips over 18 um')
    """
    why = LIFE[name].why if name in LIFE else ""
    return f"{short(name)}: {why}" if why else short(name)
