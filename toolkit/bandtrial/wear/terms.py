"""The terms of the model, each stated once: value, slopes, words and its line of mathematics.

A term works on arrays of readings by points, (n, N): n cuts or readings, N parameter vectors at a time. It returns its
value and its slopes with what it is made of; density, start, prediction, curvature and the shown equations all ask it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import asinh, lgamma, log, pi, sqrt
from typing import Any, ClassVar

import numpy as np

LEVEL = 0.8  # of every interval shown
NU = 5.0  # degrees of freedom of the noise: heavier tails than a normal, still with a variance
SOFT = 0.15  # log over which a bend of the law is rounded
BOUNDED = 2.0  # scales of the noise beyond which the pull of a reading grows no more, as a climb begins
MOST_SHAPE = 20.0  # Weibull shape of ends that come as regularly as any: lives agree to 6 %
STEEPEST = 30.0  # log beyond which a growth is no longer resolved: e^30 times a sharp edge
INFO_MEAN, INFO_SCALE = (NU + 1) / (NU + 3), 2 * NU / (NU + 3)  # Fisher information of its mean and log scale
LOG_T = lgamma((NU + 1) / 2) - lgamma(NU / 2) - 0.5 * log(NU * pi)


@dataclass(frozen=True)
class Parameter:
    """A number of a term: its name in the prior table, on the log scale or not, and what people call it."""

    name: str
    positive: bool
    words: str
    symbol: str


@dataclass(frozen=True)
class Growth:
    """How the edge's own growth u follows the wear used E:  u = (c/c*)^d (j (1 - exp(-E/ε)) + k E^p).

    A fast break-in of size j over a wear of ε, then dulling k with a power p of the wear: real edges dull ever faster.
    What a dull edge adds is in part a force of its own, whatever the chip (Altintas, Manufacturing Automation, from
    memory: chip and edge force apart), so its share in the signal goes with a power d of a covariate c: -1 if it is
    wholly the edge's own, 0 if it grows with the chip.
    """

    parameters = (
        Parameter("break_in", True, "fast first rise of a new band", "j"),
        Parameter("dulling", True, "rise when one wear life is used", "k"),
        Parameter("growth_power", True, "power of the wear used with which it rises", "p"),
        Parameter("break_in_length", True, "break-in, share of the wear life", "ε"),
        Parameter("dulling_share", False, "power of the covariate with which the share of dulling goes", "d"),
    )
    mathematics = r"u = (c/c^*)^{d}\,\left(j\,(1 - e^{-E/\varepsilon}) + k E^{p}\right)"

    def rise(
        self, values: Sequence[Any], log_E: np.ndarray, x: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, list[np.ndarray]]:
        """u (n, N), d u / d log E, and d u / d of the working value of each parameter, in their order.

        values: j, k, p, e on their own scale and d, arrays (N,) (d None: the share is the same at all settings);
        log_E (n, N); x (n,): log(c/c*).
        """
        j, k, p, e, d = values
        log_E = np.minimum(log_E, STEEPEST)
        z = np.exp(log_E)
        z /= e
        fade = np.exp(-z)
        late = p * log_E
        np.minimum(late, STEEPEST, out=late)
        if d is None:
            np.exp(late, out=late)
            late *= k
            first = j
        else:
            share = x[:, None] * d
            late += share
            np.exp(late, out=late)
            late *= k
            first = np.exp(share, out=share)
            first *= j
        fade *= first
        early = first - fade
        z *= fade  # the break-in's slope with log E
        u = early + late
        powered = late * p
        slopes = [early, late, powered * log_E, -z]
        if d is not None:
            slopes.append(u * x[:, None])
        powered += z
        return u, powered, slopes


@dataclass(frozen=True)
class Adds:
    """The log of a signal to which the edge adds:  log(1 + u). Forces add."""

    parameters: ClassVar[tuple[Parameter, ...]] = ()
    mathematics = r"\log(1 + u)"

    def rise(self, values: Sequence[Any], u: np.ndarray) -> tuple[np.ndarray, np.ndarray, list[np.ndarray]]:
        """Rise of the log (n, N), its slope with u, and with the parameters (none)."""
        grown = 1 + u  # u is never negative, so that nothing is lost by the plain and far faster logarithm
        steep = 1 / grown
        return np.log(grown, out=grown), steep, []


@dataclass(frozen=True)
class Leaves:
    """The log of the inverse of what the edge leaves:  asinh(b) + asinh(u (1 + b^2)^(1/2) - b),  b = 1/2.

    A chip at a set force has what the edge leaves of it, and runs out: by Kienzle's law the log rises as
    -log(1 - u)/(1 - mc), which quickens (b = 1.5 at the start); forces that the chip shares with the edge make it
    slacken. The law goes straight up at first, quickens a little, and levels off once next to nothing is left; by how
    much it quickens with the wear is the growth's power to say.
    """

    bend = 0.5
    parameters: ClassVar[tuple[Parameter, ...]] = ()
    mathematics = r"\sinh^{-1} b + \sinh^{-1}(u\sqrt{1 + b^2} - b),\quad b = 1/2"

    def rise(self, values: Sequence[Any], u: np.ndarray) -> tuple[np.ndarray, np.ndarray, list[np.ndarray]]:
        """Rise of the log (n, N), its slope with u, and with the parameters (none)."""
        steep = sqrt(1 + self.bend**2)
        v = u * steep
        v -= self.bend
        root = v * v
        root += 1
        np.sqrt(root, out=root)
        v += root  # v was -1/2 at the least: asinh by its logarithm loses nothing
        np.log(v, out=v)
        v += asinh(self.bend)
        return v, np.divide(steep, root, out=root), []


@dataclass(frozen=True)
class Bend:
    """A column of the clock by which log life falls faster past a place:  s log(1 + exp(side (v - v0)/s)), s = 0.15.

    Log life loses c times this, so that past v0 each log of v costs c more. Where along the law a tooth starts to rub,
    to chip or to burn is not known beforehand: bends at several places with coefficients of their own, each with a
    prior, follow it wherever it is.
    """

    name: str
    of: str  # "speed": v = log(V/V*); "chip": v = log(h/h*)
    at: float
    side: float
    words: str
    mathematics = r"c\,s\,\log\left(1 + e^{\pm(v - v_0)/s}\right)"

    def column(self, speed: np.ndarray, chip: np.ndarray) -> np.ndarray:
        """Of n cuts at log speed and log chip load (n,)."""
        v = self.side * ((speed if self.of == "speed" else chip) - self.at) / SOFT
        return SOFT * (np.maximum(v, 0.0) + np.log1p(np.exp(-np.abs(v))))


BENDS = (
    Bend("speed_bend[slow]", "speed", float(np.log(0.9)), -1.0, "slower than 0.9 of the published start"),
    Bend("speed_bend[fast]", "speed", float(np.log(1.25)), 1.0, "faster than 1.25 times the published start"),
    Bend("chip_load_bend[3 um]", "chip", float(np.log(0.3)), -1.0, "chips under 3 um"),
    Bend("chip_load_bend[6 um]", "chip", float(np.log(0.6)), -1.0, "chips under 6 um"),
    Bend("chip_load_bend[12 um]", "chip", float(np.log(1.2)), 1.0, "chips over 12 um"),
    Bend("chip_load_bend[18 um]", "chip", float(np.log(1.8)), 1.0, "chips over 18 um"),
    Bend("chip_load_bend[28 um]", "chip", float(np.log(2.8)), 1.0, "chips over 28 um"),
    Bend("chip_load_bend[45 um]", "chip", float(np.log(4.5)), 1.0, "chips over 45 um"),
)
GROWTH = Growth()


@dataclass(frozen=True)
class WearEnd:
    """End by wear: Weibull in wear used.  worn (log K + (K - 1) log E + log rate) - E^K,  log rate of E in minutes."""

    parameters = (Parameter("weibull_shape", True, "Weibull shape of the wear ends", "K"),)
    mathematics = r"\log K + (K-1)\log E - E^{K}\ \text{(ended)},\quad -E^{K}\ \text{(still sound)}"

    def log_density(
        self, K: np.ndarray, log_E: np.ndarray, log_rate: np.ndarray, worn: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Log density (m, N), its slopes with log E and log K, and E^K; worn (m, 1) 0 or 1."""
        z = np.minimum(K * log_E, 300.0)
        power = np.exp(z)
        value = worn * (np.log(K) + z - log_E + log_rate) - power
        return value, worn * (K - 1) - K * power, worn * (1 + z) - z * power, power

    def shape(self, log_shape: Any) -> tuple[Any, Any]:
        """Weibull shape K, k / (1 + (k/K0)^3)^(1/3) of k = exp(log_shape), and d log K / d log k: lives never agree to
        better than some K0 = 20 lets them."""
        k = np.exp(np.minimum(log_shape, 20.0))
        past = 1 + (k / MOST_SHAPE) ** 3
        return k / np.cbrt(past), 1 / past


WEAR_END = WearEnd()


def noise(rest: np.ndarray, scale: Any) -> tuple[np.ndarray, np.ndarray]:
    """Log density (n, N) of readings off by `rest` under Student's t with NU degrees of freedom and `scale` (N,), and
    its slope with the reading's mean; that with log scale is this times `rest`, less 1."""
    spread = rest * rest
    spread += NU * scale**2
    pull = rest / spread
    pull *= NU + 1
    value = np.log(spread, out=spread)
    value *= -0.5 * (NU + 1)
    value += LOG_T + 0.5 * (NU + 1) * log(NU) + NU * np.log(scale)
    return value, pull


def bounded_noise(rest: np.ndarray, scale: Any) -> tuple[np.ndarray, np.ndarray]:
    """The same under Huber's law, normal up to BOUNDED scales and exponential beyond, but for its constant. Its pull
    never lets go, however far a reading is off: under Student's t a whole band that is foretold far too high pulls
    hardly at all, and a climb leaves it there.

    Source: Huber, Robust estimation of a location parameter, Annals of Mathematical Statistics 35 (1964), 73-101.
    """
    z = rest / scale
    held = np.clip(z, -BOUNDED, BOUNDED)
    return held * (0.5 * held - z) - np.log(scale), held / scale
