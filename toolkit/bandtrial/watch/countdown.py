"""How long until a band is to be changed: by the sign to look for, after an area, or at its end, whichever pays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bandtrial import units
from bandtrial.recommend.condition import (
    BROKEN_IN,
    WEAR,
    Reading,
    completed,
    read_off,
    reading_of,
    sign_to_look_for,
    summed,
)
from bandtrial.recommend.gate import trust_of, widened
from bandtrial.recommend.job import NotYet, job_of
from bandtrial.recommend.optimise import Wish
from bandtrial.recommend.sign import CUT_TIME, Sign, shown

MOST_SETTINGS = 8
"""Settings of bands in service whose sign is worked out, those of the most worn bands first."""
STEPS = 60


@dataclass(frozen=True)
class Change:
    """When to change a band that goes on at its last setting: pieces until then, with the 80 % prediction interval.

    sign : of that setting; now : what the band reads now, in the sign's unit
    """

    sign: Sign
    now: float
    pieces: int
    pieces_low: int
    pieces_high: int

    def say(self, system: str) -> str:
        """In a line."""
        span = f"in about {self.pieces:,} pieces ({self.pieces_low:,} to {self.pieces_high:,})"
        if self.sign.pays == "end":
            return "run it to its end; no earlier change pays at this setting"
        if self.sign.pays == "after":
            return f"change after {units.show(self.sign.best_after or 0.0, 'area', system)} sawn in all, {span}"
        what, limit, running = self.sign.parts(system)
        running = running.partition(" (")[0]
        known = self.sign.reading != CUT_TIME or self.sign.known
        now = shown(self.now, self.sign.reading, system) if known else f"{self.now / self.sign.fresh:.2g} times"
        return f"change when {what} {limit} {running} (now {now}), {span}"


class Countdown:
    """Signs of the settings that bands in service run at, each worked out once."""

    def __init__(self, fit, study) -> None:
        self.fit, self.study = fit, study
        self.signs: dict[tuple, tuple] = {}

    def of(self, number: int, last, used, wear_per_piece, left, area: float, rng) -> Change | None:
        """`Change` of band `number` whose last cut is `last`; None where there is no sign, or too many settings.

        used, wear_per_piece, left : wear used, wear of a piece, pieces until it ends, by draw (n_draws,); area [cm2]
        """
        job, sign, V, bite = self._sign(last)
        if sign is None:
            return None
        pieces = left
        if sign.pays == "after" or sign.after is not None:
            latest = sign.after if sign.pays == "sign" else sign.best_after
            pieces = np.minimum(pieces, max(latest - area, 0.0) / (last["cut_area"] or sign.piece))
        name = "chip_load" if sign.reading == CUT_TIME else sign.reading
        reading, own = self._read(job, name, number, V, bite)
        log_now = float(np.median(_log_at(reading, used) + own))
        log_limit = reading.at(BROKEN_IN) + np.log(sign.limit / sign.fresh)
        if sign.pays == "sign":
            until = pieces_until(reading, own, log_limit, sign.in_a_row, used, wear_per_piece, rng)
            pieces = np.minimum(pieces, until)
        pieces = np.floor(widened(pieces + 0.5, trust_of(self.fit)))
        middle, low, high = (int(v) for v in np.quantile(pieces, [0.5, 0.1, 0.9]))
        return Change(sign, float(sign.limit * np.exp(log_now - log_limit)), middle, low, high)

    def _sign(self, last):
        names = tuple(str(last[key]) for key in ("machine", "stock", "material", "coolant"))
        V, forced = float(last["band_speed"]), last["feed_mode"] == "force"
        feed = float(last["feed_force"] if forced else last["chip_load"])
        key = (*names, float(last["work_thickness"]), float(f"{V:.3g}"), float(f"{feed:.2g}"))
        if key not in self.signs:
            if len(self.signs) == MOST_SETTINGS:
                return None, None, V, feed
            self.signs[key] = self._worked_out(names, key[4], V, feed, forced)
        return self.signs[key]

    def _worked_out(self, names, thickness, V, feed, forced):
        machine, stock, material, coolant = names
        try:
            job = job_of(self.study, machine, stock, material, thickness, coolant)
        except (NotYet, ValueError):
            return None, None, V, feed
        if forced != (job.feed == "force"):
            return None, None, V, feed
        bite = float(job.bite_of(V, feed)) if forced else feed
        return job, sign_to_look_for(self.fit, job, Wish(), V, bite), V, bite

    def _read(self, job, name, number, V, bite) -> tuple[Reading, np.ndarray]:
        """The signal at this setting, and how far this band's own readings lie from an ordinary band's."""
        i = self.fit.signals.index(name)
        beside = self.fit.drawn.beside[:, number, 1 + i]
        return reading_of(self.fit, job, name, V, bite), np.broadcast_to(beside, (self.fit.n_draws,))


def pieces_until(reading: Reading, own, log_limit: float, run: int, used, wear_per_piece, rng) -> np.ndarray:
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


def _log_at(reading: Reading, wear):
    """Log reading of an ordinary band at wear used (n_draws, ...)."""
    step = np.log(WEAR[1] / WEAR[0])
    return read_off(reading.log, np.maximum(np.log(np.maximum(wear, WEAR[0])) - np.log(WEAR[0]), 0.0) / step)
