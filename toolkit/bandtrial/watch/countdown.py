"""How long until a band is to be changed: by the sign to look for, after an area, or at its end, whichever pays."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import units
from bandtrial.recommend.condition import BROKEN_IN, WEAR, Reading, completed, reading_of, sign_to_look_for, summed
from bandtrial.recommend.job import Job, NotYet, job_of, trust_of, widened
from bandtrial.recommend.longrun import read_off
from bandtrial.recommend.optimise import Wish
from bandtrial.recommend.sign import CUT_TIME, Sign, shown
from bandtrial.wear.signals import BY_FEED, in_words
from bandtrial.words import rounded

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial.sawing import Numbers
    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


MOST_SETTINGS, MOST_BANDS = 8, 100
"""Settings of bands in service whose sign is worked out, and bands counted down to one, the most worn first."""
STEPS = 60


@dataclass(frozen=True)
class Change:
    """When to change a band that goes on at its last setting: pieces until then, with the 80 % prediction interval.

    way : "own" the shop's own level, "sign", "after" an area or "end", whichever pays; said : in words; reading, limit,
    now : what is read, over which it is changed, and now, in inside units; sign : what pays at this setting, or None
    """

    way: str
    said: str
    reading: str
    limit: float
    now: float
    pieces: int
    pieces_low: int
    pieces_high: int
    sign: Sign | None = None


class Countdown:
    """When bands in service are to be changed; the sign of each setting is worked out once."""

    def __init__(self, fit: Fit, study: Study) -> None:
        self.fit, self.study = fit, study
        self.signs: dict[tuple[Any, ...], Sign | None] = {}
        self.readings: dict[tuple[Any, ...], Reading] = {}
        self.told = 0

    def of(
        self, number: int, last: pd.Series[Any], state: tuple[Any, ...], area: float, rng: np.random.Generator
    ) -> tuple[np.ndarray, Change | None]:
        """Pieces that band `number` has left, to the shop's own level where it has one, and its `Change`.

        last : its last cut; state : wear used, wear of a piece, pieces until it ends, by draw (n_draws,); area [cm2].
        No change where nothing is read at each cut, no cost is known, or too many bands or settings come before.
        """
        job, V, bite = self._job(last)
        if job is None:
            return state[2], None
        band = _OnBand(self, job, number, (V, bite), state, rng)
        if levels := band.levels():
            return band.to_level(levels)
        sign = self._sign(last, job, V, bite) if self.told < MOST_BANDS else None
        self.told += sign is not None
        return state[2], band.by_sign(sign, area, float(last["cut_area"])) if sign else None

    def counted(self, pieces: np.ndarray) -> tuple[int, int, int]:
        """Middle and 80 % interval of whole pieces."""
        pieces = np.floor(widened(np.asarray(pieces) + 0.5, trust_of(self.fit)))
        middle, low, high = (int(v) for v in np.quantile(pieces, [0.5, 0.1, 0.9]))
        return middle, low, high

    def _sign(self, last: pd.Series[Any], job: Job, V: Numbers, bite: Numbers) -> Sign | None:
        key = self._key(last)
        if key not in self.signs:
            if len(self.signs) == MOST_SETTINGS:
                return None
            self.signs[key] = sign_to_look_for(self.fit, job, Wish(), V, bite)
        return self.signs[key]

    @staticmethod
    def _key(last: pd.Series[Any]) -> tuple[Any, ...]:
        names = tuple(str(last[key]) for key in ("machine", "stock", "material", "coolant"))
        feed = float(last["feed_force"] if last["feed_mode"] == "force" else last["chip_load"])
        return (*names, float(last["work_thickness"]), float(f"{last['band_speed']:.3g}"), float(f"{feed:.2g}"))

    def _job(self, last: pd.Series[Any]) -> tuple[Job | None, float, float]:
        """The job of a cut, its true band speed [m/min] and bite; no job where none can be made of it."""
        key = self._key(last)
        machine, stock, material, coolant, thickness = key[:5]
        V, forced = float(last["band_speed"]), last["feed_mode"] == "force"
        try:
            job = job_of(self.study, machine, stock, material, thickness, coolant)
        except (NotYet, ValueError):
            return None, V, 0.0
        if forced != (job.feed == "force"):
            return None, V, 0.0
        return job, V, float(job.bite_of(V, last["feed_force"])) if forced else float(last["chip_load"])


class _OnBand:
    """One band at its setting, by draw."""

    def __init__(
        self,
        all_of: Countdown,
        job: Job,
        number: int,
        setting: tuple[float, float],
        state: tuple[np.ndarray, np.ndarray, np.ndarray],
        rng: np.random.Generator,
    ) -> None:
        self.all, self.job, self.number, self.setting, self.rng = all_of, job, number, setting, rng
        self.used, self.wear_per_piece, self.left = state

    def read(self, reading: str) -> tuple[Reading, np.ndarray]:
        """The signal at this setting, and how far this band's readings lie from an ordinary band's (n_draws,)."""
        fit, name = self.all.fit, "chip_load" if reading == CUT_TIME else reading
        own = fit.drawn.beside[:, self.number, 1 + fit.signals.index(name)]
        job, kept = self.job, self.all.readings
        key = (name, job.machine.id, job.stock.id, job.material.id, job.thickness, *self.setting)
        found = kept.get(key) or reading_of(fit, job, name, *self.setting)
        if len(kept) < MOST_SETTINGS:
            kept[key] = found
        return found, np.broadcast_to(own, (fit.n_draws,))

    def levels(self) -> list[tuple[str, float]]:
        """The shop's own levels that this work's readings tell, at the saw or at a bench."""
        of = BY_FEED[self.job.feed]
        known = {CUT_TIME if name == "chip_load" else name for name in self.all.fit.signals if name in of}
        return [one for one in (*self.job.machine.levels, *self.job.stock.levels) if one[0] in known]

    def to_level(self, levels: Any) -> tuple[np.ndarray, Change]:
        """Pieces to the first of the shop's levels, or to the end before."""
        until, name, level, now = min((self._level(*one) for one in levels), key=lambda one: float(np.median(one[0])))
        left = np.minimum(self.left, until)
        count = self.all.counted(left)
        system = self.all.study.units
        ratio = name == CUT_TIME
        at, is_now = (f"{x:.2g} times a new band's" if ratio else shown(x, name, system) for x in (level, now))
        what = "a piece takes" if ratio else in_words(name) + " is"
        said = f"the shop changes it when {what} over {at} (now {is_now}), {_span(count)}"
        return left, Change("own", said, name, level, now, *count)

    def _level(self, name: str, level: float) -> tuple[np.ndarray, str, float, float]:
        """Pieces to one level by draw (one reading far over it is not yet the level), its reading, the level, and what
        is read now."""
        reading, own = self.read(name)
        log_limit = reading.at(BROKEN_IN) + np.log(level) if name == CUT_TIME else float(np.log(level))
        until = np.maximum(wear_at(reading, own, log_limit) - self.used, 0.0) / self.wear_per_piece
        now = level * float(np.exp(np.median(_log_at(reading, self.used) + own) - log_limit))
        return until, name, level, now

    def by_sign(self, sign: Sign, area: float, piece: float) -> Change:
        """As `sign` says what pays."""
        pieces, system = self.left, self.all.study.units
        if sign.pays == "after" or (sign.pays == "sign" and sign.after is not None):
            latest = sign.after if sign.pays == "sign" else sign.best_after
            pieces = np.minimum(pieces, max((latest or 0.0) - area, 0.0) / (piece or sign.piece))
        reading, own = self.read(sign.reading)
        log_limit = reading.at(BROKEN_IN) + np.log(sign.limit / sign.fresh)
        now = float(sign.limit * np.exp(np.median(_log_at(reading, self.used) + own) - log_limit))
        if sign.pays == "sign":
            until = pieces_until(reading, own, log_limit, sign.in_a_row, self.used, self.wear_per_piece, self.rng)
            pieces = np.minimum(pieces, until)
        count = self.all.counted(pieces)
        said = said_of(sign, now, count, system)
        return replace(Change(sign.pays, said, sign.reading, sign.limit, now, *count), sign=sign)


def said_of(sign: Sign, now: float, count: tuple[int, int, int], system: str) -> str:
    """The change that pays, in words."""
    if sign.pays == "end":
        return "run it to its end; no earlier change pays at this setting"
    if sign.pays == "after":
        return f"change after {_sawn(sign.best_after or 0.0, system)}, {_span(count)}"
    what, limit, running = sign.parts(system)
    hidden = sign.reading == CUT_TIME and not sign.known
    is_now = f"{now / sign.fresh:.2g} times" if hidden else shown(now, sign.reading, system)
    latest = f", at the latest after {_sawn(sign.after, system)}" if sign.after else ""
    return f"change when {what} {limit}, {running.partition(' (')[0]} (now {is_now}){latest}, {_span(count)}"


def _sawn(area: float, system: str) -> str:
    """An area sawn so far, to three figures."""
    unit = units.display_unit("area", system)
    return f"{rounded(float(units.from_inside(area, 'area', unit)), 3)} {unit} sawn in all"


def _span(count: Any) -> str:
    if not count[2]:
        return "which is now"
    return f"in about {count[0]:,} pieces" + (f" ({count[1]:,} to {count[2]:,})" if count[1] < count[2] else "")


def pieces_until(
    reading: Reading,
    own: np.ndarray,
    log_limit: float,
    run: int,
    used: np.ndarray,
    wear_per_piece: np.ndarray,
    rng: np.random.Generator,
) -> np.ndarray:
    """One draw of the pieces until `run` readings running are over the limit, for each draw (n_draws,); inf: never.

    own : log level of the band (n_draws,); readings as in `recommend.condition`.
    """
    share = np.linspace(0.0, 1.0, STEPS) ** 2
    wear = used[:, None] + np.maximum(WEAR[-1] - used, 1e-6)[:, None] * share
    n = (wear - used[:, None]) / wear_per_piece[:, None]
    z = (log_limit - own[:, None] - _log_at(reading, wear)) / reading.noise[:, None]
    passed = summed(n, completed(z, run, reading.weight), growing=True)
    drawn = -np.log(rng.random(len(used)))
    at = (passed < drawn[:, None]).sum(axis=1)
    row, before = np.arange(len(used)), np.clip(at - 1, 0, STEPS - 2)
    low, high = passed[row, before], passed[row, before + 1]
    within = n[row, before] + (drawn - low) / np.maximum(high - low, 1e-300) * (n[row, before + 1] - n[row, before])
    return np.where(at == STEPS, np.inf, within)


def wear_at(reading: Reading, own: np.ndarray, log_level: float) -> np.ndarray:
    """Wear used at which the course of a band's readings, their scatter aside, comes to a level (n_draws,); inf: never.

    own : log level of the band (n_draws,); readings as in `recommend.condition`, which never fall with wear.
    """
    course = reading.log + own[:, None]
    at = (course < log_level).sum(axis=1)
    row, before = np.arange(len(course)), np.clip(at - 1, 0, len(WEAR) - 2)
    low, high = course[row, before], course[row, before + 1]
    share = np.clip((log_level - low) / np.maximum(high - low, 1e-300), 0.0, 1.0)
    return np.where(at == len(WEAR), np.inf, WEAR[before] * (WEAR[1] / WEAR[0]) ** share)


def _log_at(reading: Reading, wear: np.ndarray) -> np.ndarray:
    """Log reading of an ordinary band at wear used (n_draws, ...)."""
    step = np.log(WEAR[1] / WEAR[0])
    return read_off(reading.log, np.maximum(np.log(np.maximum(wear, WEAR[0])) - np.log(WEAR[0]), 0.0) / step)
