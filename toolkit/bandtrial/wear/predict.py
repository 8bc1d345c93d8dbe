"""What posterior draws say at settings that may not have been tried: life, signals, chip load."""

from __future__ import annotations

from collections.abc import Iterable
from copy import copy
from functools import lru_cache
from statistics import NormalDist
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from ..inference import Prior
from ..published.speeds import band_speeds
from .design import H_REF, clock_design, share_design, signal_design
from .layout import EDGE_ROWS, Block, Layout, Rise, prior
from .rows import Rows, SignalRows, force_over
from .signals import BY_FEED, BY_NAME
from .terms import LEVEL

if TYPE_CHECKING:
    from ..study.model import Study
    from .fit import Fit

STANDARD = Prior("standard normal", 0.0, 1.0)
ENDS_TELL = 3.0  # precision of one end seen about the life, over that of the allowance where none was; our choice


def log_growth(theta: np.ndarray, block: Block, E: Any, x: Any) -> np.ndarray:
    """By how much dulling raises the log of a signal (n, k); theta (n, d), E (n or 1, k), x (k,)."""
    return _risen(theta, block, E, x).value.T


def growth_slope(theta: np.ndarray, block: Block, E: Any, x: Any) -> np.ndarray:
    """d / d log E of `log_growth` (n, k)."""
    return _risen(theta, block, E, x).by_log_E.T


def _risen(theta: np.ndarray, block: Block, E: Any, x: Any) -> Rise:
    log_E = np.log(np.maximum(np.broadcast_to(np.atleast_2d(E), (len(theta), np.shape(E)[-1])), 1e-300)).T
    return block.rise(theta.T, log_E, np.asarray(x, float))


@lru_cache
def _quantiles(n: int) -> np.ndarray:
    """Standard normal quantiles at the middles of n even steps."""
    law = NormalDist()
    return np.array([law.inv_cdf((i + 0.5) / n) for i in range(n)])


@lru_cache(maxsize=1000)
def _star(group: str, thickness: float, edge: str, coolant: str) -> float:
    return float(band_speeds([group], [thickness], [edge], [coolant])[0])


class Where(NamedTuple):
    """What a band cuts and where, by name."""

    material: str
    machine: str
    stock: str


class Predictor:
    """Draws of the parameters (n, d) with what is needed to place a new setting in the model's design.

    A material, machine, stock, coolant or edge without cuts gets its effect from the spread between those
    that have them (or from the prior), drawn once per name, so that the same name always means the same draw.

    Two allowances for what the model can't see are part of every life it foretells: bands come in batches
    (`batches`), and wear may rise in ways not yet met beyond the speeds and chip loads tried (`beyond`).
    """

    def __init__(self, rows: Rows, layout: Layout, theta: np.ndarray, study: Study, seed: int) -> None:
        self.rows, self.layout, self.theta = rows, layout, theta
        self.group_of = {name: one.group for name, one in study.materials.items()}
        self.edge_of = {name: one.edge for name, one in study.band_stock.items()}
        self.pitch_of = {name: one.tooth_spacing for name, one in study.band_stock.items()}
        self.feed_of = {name: one.feed for name, one in study.machines.items()}
        self.seed, self._unseen = seed, dict[tuple[str, str], Any]()

    def thinned(self, take: np.ndarray) -> Predictor:
        """The same for the draws `take` (indices); names without cuts are drawn anew."""
        few = copy(self)
        few.theta, few._unseen = self.theta[take], {}
        return few

    def log_tau(
        self, band_speed: Any, chip_load: Any, work_thickness: Any, where: Where, coolant: str = "flood",
        beyond: bool = True, missed: bool = True,
    ) -> np.ndarray:  # fmt: skip
        """log of a typical band's wear life in contact minutes (n_draws, k) at settings (k,).

        beyond False leaves out the allowance for settings beyond those tried, missed False that for what the law
        misses: two studies at the same setting share it."""
        material, _, stock = where
        V, h, L = np.broadcast_arrays(*map(np.atleast_1d, (band_speed, chip_load, work_thickness)))
        edge, levels = self.edge_of[stock], self.rows.levels
        star = self.star(L, material, edge, coolant)
        columns = {"band_speed": V, "published_band_speed": star, "chip_load": h, "work_thickness": L}
        named = {"coolant": coolant, "edge": edge, **where._asdict()}
        columns |= {column: np.full(V.shape, name) for column, name in named.items()}
        X = clock_design(columns, levels, levels["edge"]).dense(columns=self.layout.columns)
        out: np.ndarray = (X @ self.layout.coefficients(self.theta.T)).T
        for kind, name in where._asdict().items():
            if name not in levels[kind]:
                out = out + self.unseen_level(kind, name)[:, None]
        if coolant != "flood" and coolant not in levels["coolant"]:
            out = out + self._draw("coolant", coolant, prior("coolant_effect"))[:, None]
        if edge not in levels["edge"]:
            n = prior("taylor_n", EDGE_ROWS.get(edge, EDGE_ROWS["bimetal"]), positive=True)
            out = out - np.exp(-self._draw("edge", edge, n))[:, None] * np.log(V / star)
        out = out + self.batches()[:, None] + (self.missed(V, h, star, material) if missed else 0.0)
        return out - self.beyond(V, h, star, material) if beyond else out

    def batches(self) -> np.ndarray:
        """Shift of the log life (n_draws,) by which the bands seen, a few batches, may miss the long run's mean.

        With half of the band-to-band variance s^2 between batches of 5 bands, the mean of m bands is off by a
        variance of 2 s^2 / m more than if each band were on its own (at most s^2/2): common practice that bands
        of one coil are alike, no source for the share.
        """
        at = self.layout.band_scatter
        if at is None:
            return np.zeros(len(self.theta))
        spread = np.exp(self.theta[:, at]) * np.sqrt(min(2.0 / len(self.rows.bands), 0.5))
        return np.asarray(spread * self._draw("batches", "", STANDARD))

    def missed(self, V: np.ndarray, h: np.ndarray, star: np.ndarray, material: str) -> np.ndarray:
        """What the law may miss of log life (n_draws, k): a constant, and a slope each with log speed and log chip load
        away from the middle of what was tried; standard normal times the prior table's `form_missed`, the same for all
        settings of a draw. No law is true: worlds of other laws than these showed errors of that size. The growth of
        a signal over a part of a life tells its end less surely than ends do: of m ends, a second constant is left
        with a variance of 1 / (1 + 3 m)."""
        x, y = np.log(V / star), np.log(h / H_REF)
        (x_low, x_high), (y_low, y_high) = self.tried(material)
        out, one = np.zeros((1, 1)), np.ones(np.shape(x))
        unseen = one / np.sqrt(1 + ENDS_TELL * self.rows.worn.sum())
        for name, away in (("level", one), ("end", unseen), ("band_speed", x - 0.5 * (x_low + x_high)),
                           ("chip_load", y - 0.5 * (y_low + y_high))):  # fmt: skip
            out = out + self._draw("missed", name, prior("form_missed", name))[:, None] * away
        return out

    def beyond(self, V: np.ndarray, h: np.ndarray, star: np.ndarray, material: str) -> np.ndarray:
        """Loss of log life (n_draws, ...) at speeds above, and chip loads outside, those tried: c |xi| d.

        d is the distance in logs from the range tried with the material (with any, if it has under 5 cuts),
        c from the prior table, xi standard normal and the same for all settings of a draw. Heat, chipped edges
        and rubbing only ever cost life, and their onset can't be seen from settings that do not reach it.
        """
        (_, x_high), (y_low, y_high) = self.tried(material)
        x, y = np.log(V / star), np.log(h / H_REF)
        d = np.maximum(x - x_high, 0) + np.maximum(y - y_high, 0) + np.maximum(y_low - y, 0)
        loss = np.abs(self._draw("beyond", "tried", prior("beyond_tried")))
        return np.asarray(loss.reshape(-1, *(1,) * (max(np.ndim(d), 2) - 1)) * d)

    def tried(self, material: str) -> tuple[tuple[float, float], tuple[float, float]]:
        """Least and greatest log speed ratio, and log chip load, of the cuts of a material."""
        if ("tried", material) not in self._unseen:
            X, names = self.rows.X.core, self.rows.X.names
            at = np.ones(len(X), bool)
            if material in self.rows.levels["material"] and len(self.rows.levels["material"]) > 1:
                at = self.rows.X.codes[0] == self.rows.levels["material"].index(material)
            at = at if at.sum() >= 5 else np.ones(len(X), bool)
            y = -X[at, names.index("chip_load_exponent")]
            x = -X[at][:, [c for c, name in enumerate(names) if name.startswith("speed_exponent")]].sum(axis=1)
            self._unseen["tried", material] = (float(x.min()), float(x.max())), (float(y.min()), float(y.max()))
        found: tuple[tuple[float, float], tuple[float, float]] = self._unseen["tried", material]
        return found

    def signal(
        self, name: str, band_speed: Any, chip_load: Any, work_thickness: Any, where: Where, wear_used: Any = 0.0,
        feed_force: Any = None,
    ) -> np.ndarray:  # fmt: skip
        """Median of a signal (n_draws, k) in the unit of its column, for a band of ordinary level."""
        material, machine, stock = where
        i = [s.name for s in self.rows.signals].index(name)
        s, block, kind = self.rows.signals[i], self.layout.blocks[i], BY_NAME[name]
        V, h, L, E = np.broadcast_arrays(*map(np.atleast_1d, (band_speed, chip_load, work_thickness, wear_used)))
        star = self.star(L, material, self.edge_of[stock], "flood")
        columns = {"band_speed": V, "published_band_speed": star, "chip_load": h, "work_thickness": L}
        named = {"material": material, "machine": machine, "feed_mode": self.feed_of.get(machine, "")}
        columns |= {column: np.full(V.shape, name) for column, name in named.items()}
        if feed_force is not None:
            force = np.broadcast_to(feed_force * self.pitch_of[stock] / L, V.shape)
            columns["force_per_tooth"] = force_over(self.rows.force_ref, force, [material] * len(force))
        elif "force_per_tooth" in kind.powers:
            columns["force_per_tooth"] = np.ones(V.shape)
        groups = {group: self._levels_of(s, group) for group in ("material", "machine")}
        mean = (signal_design(kind, columns, groups).times(self.theta.T[block.beta])).T
        for group, value in (("material", material), ("machine", machine)):
            if len(groups[group]) > 1 and value not in groups[group]:
                p = prior("signal_level_spread", group)
                mean = mean + self._draw(f"{name} {group}", value, p)[:, None]
        mean = mean + log_growth(self.theta, block, E[None, :], share_design(kind, columns))
        return np.asarray(np.exp(-mean if kind.inverse else mean))

    def _levels_of(self, s: SignalRows, group: str) -> list[str]:
        """Names of a group that have levels of a signal; of those without columns, one name."""
        label = f"level[{group} "
        names = [c[len(label) : -1] for c in s.X.columns if c.startswith(label)]
        return names or self.rows.levels[group][:1]

    def star(self, L: Any, material: str, edge: str, coolant: str) -> np.ndarray:
        """Published starting speed V* [m/min] of the settings (k,)."""
        L, group = np.asarray(L, float), self.group_of[material]
        if len(L) and (L[0] == L).all():
            return np.full(len(L), _star(group, float(L[0]), edge, coolant))
        return band_speeds([group] * len(L), L, [edge] * len(L), [coolant] * len(L))

    def unseen_level(self, kind: str, name: str) -> np.ndarray:
        """Effect on log life (n_draws,) of a material, machine or stock that has no cuts."""
        key = kind, name
        if key not in self._unseen:
            rng, even, names = self._rng(key), _quantiles(len(self.theta)), self.layout.names
            if f"spread[{kind}]" in names:
                log_s = self.theta[:, names.index(f"spread[{kind}]")]
            else:
                spread = prior("spread", kind, positive=True)
                log_s = spread.mean + spread.sd * rng.permutation(even)
            self._unseen[key] = np.exp(log_s) * rng.permutation(even)
        return np.asarray(self._unseen[key])

    def _draw(self, kind: str, name: str, p: Prior) -> np.ndarray:
        key = kind, name
        if key not in self._unseen:
            self._unseen[key] = p.mean + p.sd * self._rng(key).permutation(_quantiles(len(self.theta)))
        return np.asarray(self._unseen[key])

    def _rng(self, key: Iterable[str]) -> np.random.Generator:
        return np.random.default_rng([self.seed, *"|".join(key).encode()])


def predicted(fit: Fit, settings: pd.DataFrame) -> pd.DataFrame:
    """`Fit.predict`."""
    out = pd.DataFrame(index=settings.index)
    cells: dict[str, np.ndarray] = {}
    groups = settings.assign(coolant=settings.get("coolant", "flood"))
    for (*where, coolant), part in groups.groupby(["material", "machine", "stock", "coolant"], sort=False):
        names: dict[str, Any] = Where(*map(str, where))._asdict()
        at = [part[name].to_numpy(float) for name in ("band_speed", "chip_load", "work_thickness")]
        place = out.index.get_indexer(part.index)
        _put(cells, "life", np.exp(fit.log_tau(*at, **names, coolant=str(coolant))), place, len(out))
        used = part["wear_used"].to_numpy(float) if "wear_used" in part else np.zeros(len(part))
        read = BY_FEED[fit.study.machines[names["machine"]].feed]
        for signal in fit.signals:
            if signal in read and signal != "chip_load":
                _put(cells, signal, fit.signal(signal, *at, **names, wear_used=used), place, len(out))
    return out.assign(**cells)


def _put(cells: dict[str, np.ndarray], name: str, values: np.ndarray, place: np.ndarray, n: int) -> None:
    """Low, median and high of draws (n_draws, k) into the columns of `name` at rows `place`."""
    low, middle, high = np.quantile(values, [0.5 - LEVEL / 2, 0.5, 0.5 + LEVEL / 2], axis=0)
    for column, value in ((f"{name}_low", low), (name, middle), (f"{name}_high", high)):
        cells.setdefault(column, np.full(n, np.nan))[place] = value
