"""What posterior draws say at settings that may not have been tried: life, signals, chip load."""
from __future__ import annotations

from copy import copy
from functools import lru_cache

import numpy as np

from .. import published
from ..inference import Prior, draw_spread
from .layout import EDGE_ROWS, prior
from .rows import FORCE_REF, H_REF, L_REF, clock_design
from .signals import BY_NAME, risen

STANDARD = Prior("standard normal", 0.0, 1.0)


def log_growth(theta, layout, block, E, x):
    """By how much dulling raises the log of a signal (n, k): log(1 + u), u = s (j (1 - exp(-E/e)) + k E), s = exp(d x),
    or by the law of what the edge leaves (`signals`); theta (n, p), E (n or 1, k), x (k,)."""
    return _risen(theta, layout, block, E, x)[0]


def growth_slope(theta, layout, block, E, x):
    """d / d log E of `log_growth` (n, k)."""
    j, k, e, share = _dulling(theta, layout, block, x)
    return share * E * (j / e * np.exp(-E / e) + k) * _risen(theta, layout, block, E, x)[1]


def _risen(theta, layout, block, E, x):
    """`log_growth`, and its slope with u."""
    j, k, e, share = _dulling(theta, layout, block, x)
    u = share * (j * (1 - np.exp(-E / e)) + k * E)
    return risen(u, None if block.bend is None else theta[:, block.bend, None])


def _dulling(theta, layout, block, x):
    j, k, e = (np.exp(theta[:, i])[:, None] for i in (block.break_in, block.dulling, layout.break_in_length))
    share = 1.0 if block.share is None else np.exp(theta[:, block.share, None] * x)
    return j, k, e, share


@lru_cache(maxsize=1000)
def _star(group, thickness, edge, coolant):
    return float(published.band_speeds([group], [thickness], [edge], [coolant])[0])


class Predictor:
    """Draws of the parameters (n, d) with what is needed to place a new setting in the model's design.

    A material, machine, stock, coolant or edge without cuts gets its effect from the spread between those
    that have them (or from the prior), drawn once per name, so that the same name always means the same draw.

    Two allowances for what the model can't see are part of every life it foretells: bands come in batches
    (`batches`), and wear may rise in ways not yet met beyond the speeds and chip loads tried (`beyond`).
    """

    def __init__(self, rows, layout, theta, group_of, edge_of, pitch_of, feed_of, seed):
        self.rows, self.layout, self.theta = rows, layout, theta
        self.group_of, self.edge_of, self.pitch_of, self.feed_of = group_of, edge_of, pitch_of, feed_of
        self.seed, self._unseen = seed, {}

    def thinned(self, take):
        """The same for the draws `take` (indices); names without cuts are drawn anew."""
        few = copy(self)
        few.theta, few._unseen = self.theta[take], {}
        return few

    def log_tau(self, band_speed, chip_load, work_thickness, material, machine, stock, coolant="flood", beyond=True):
        """log of a typical band's wear life in contact minutes (n_draws, k) at settings (k,).

        beyond False leaves out the allowance for settings beyond those tried."""
        V, h, L = np.broadcast_arrays(*map(np.atleast_1d, (band_speed, chip_load, work_thickness)))
        edge, levels = self.edge_of[stock], self.rows.levels
        star = self.star(L, material, edge, coolant)
        columns = {"band_speed": V, "published_band_speed": star, "chip_load": h, "work_thickness": L,
                   "coolant": np.full(V.shape, coolant), "edge": np.full(V.shape, edge),
                   "material": np.full(V.shape, material), "machine": np.full(V.shape, machine),
                   "stock": np.full(V.shape, stock)}
        X, _ = clock_design(columns, levels, levels["edge"])
        eta = slice(0, len(self.layout.columns))
        out = np.where(self.layout.positive[eta], np.exp(self.theta[:, eta]), self.theta[:, eta]) \
            @ X[:, self.layout.columns].T
        for kind, name in (("material", material), ("machine", machine), ("stock", stock)):
            if name not in levels[kind]:
                out = out + self.unseen_level(kind, name)[:, None]
        if coolant != "flood" and coolant not in levels["coolant"]:
            out = out + self._draw("coolant", coolant, prior("coolant_effect"))[:, None]
        if edge not in levels["edge"]:
            n = prior("taylor_n", EDGE_ROWS.get(edge, EDGE_ROWS["bimetal"]), positive=True)
            out = out - np.exp(-self._draw("edge", edge, n))[:, None] * np.log(V / star)
        out = out + self.batches()[:, None]
        return out - self.beyond(V, h, star, material) if beyond else out

    def batches(self):
        """Shift of the log life (n_draws,) by which the bands seen, a few batches, may miss the long run's mean.

        With half of the band-to-band variance s^2 between batches of 5 bands, the mean of m bands is off by a
        variance of 2 s^2 / m more than if each band were on its own (at most s^2/2): common practice that bands
        of one coil are alike, no source for the share.
        """
        at = self.layout.band_scatter
        if at is None:
            return np.zeros(len(self.theta))
        spread = np.exp(self.theta[:, at]) * np.sqrt(min(2.0 / len(self.rows.bands), 0.5))
        return spread * self._draw("batches", "", STANDARD)

    def beyond(self, V, h, star, material):
        """Loss of log life (n_draws, ...) at speeds above, and chip loads outside, those tried: c |xi| d.

        d is the distance in logs from the range tried with the material (with any, if it has under 5 cuts),
        c from the prior table, xi standard normal and the same for all settings of a draw. Heat, chipped edges
        and rubbing only ever cost life, and their onset can't be seen from settings that do not reach it.
        """
        x_high, y_low, y_high = self.tried(material)
        x, y = np.log(V / star), np.log(h / H_REF)
        d = np.maximum(x - x_high, 0) + np.maximum(y - y_high, 0) + np.maximum(y_low - y, 0)
        loss = np.abs(self._draw("beyond", "tried", prior("beyond_tried")))
        return loss.reshape(-1, *(1,) * (max(np.ndim(d), 2) - 1)) * d

    def tried(self, material):
        """Highest log speed ratio, lowest and highest log chip load of the cuts of a material."""
        if ("tried", material) not in self._unseen:
            X, columns = self.rows.X, self.rows.columns
            at = np.ones(len(X), bool)
            if f"material[{material}]" in columns:
                at = X[:, columns.index(f"material[{material}]")] == 1
            at = at if at.sum() >= 5 else np.ones(len(X), bool)
            speed = [c for c, n in enumerate(columns) if n.startswith("speed_exponent")]
            y = -X[at, columns.index("chip_load_exponent")]
            x = -X[at][:, speed].sum(axis=1)
            self._unseen["tried", material] = float(x.max()), float(y.min()), float(y.max())
        return self._unseen["tried", material]

    def signal(self, name, band_speed, chip_load, work_thickness, material, machine, stock, wear_used=0.0,
               feed_force=None):
        """Median of a signal (n_draws, k) in the unit of its column, for a band of ordinary level."""
        i = [s.name for s in self.rows.signals].index(name)
        s, block, kind = self.rows.signals[i], self.layout.blocks[i], BY_NAME[name]
        V, h, L, E = np.broadcast_arrays(*map(np.atleast_1d, (band_speed, chip_load, work_thickness, wear_used)))
        star = self.star(L, material, self.edge_of[stock], "flood")
        logs = {"band_speed": np.log(V / star), "chip_load": np.log(h / H_REF), "work_thickness": np.log(L / L_REF)}
        if feed_force is not None:
            logs["force_per_tooth"] = np.log(feed_force * self.pitch_of[stock] / L / FORCE_REF)
        at, by = kind.shares or ("", "")
        share = logs[by] if at == self.feed_of.get(machine) else np.zeros(len(V))
        names = s.columns
        X = np.zeros((len(V), len(names)))
        for c, column in enumerate(names):
            X[:, c] = 1.0 if column == "level" else (column in (f"level[material {material}]",
                                                                f"level[machine {machine}]"))
            if column.startswith("power["):
                X[:, c] = logs[column[6:-1]]
            if column.startswith("edge["):
                X[:, c] = np.expm1(-logs[column[5:-1]])
        mean = self.theta[:, block.beta] @ X.T
        for group, value in (("material", material), ("machine", machine)):
            seen = [c for c in s.columns if c.startswith(f"level[{group} ")]
            if seen and f"level[{group} {value}]" not in seen:
                p = prior("signal_level_spread", group)
                mean = mean + self._draw(f"{name} {group}", value, p)[:, None]
        mean = mean + log_growth(self.theta, self.layout, block, E[None, :], share)
        return np.exp(-mean if kind.inverse else mean)

    def star(self, L, material, edge, coolant):
        """Published starting speed V* [m/min] of the settings (k,)."""
        L, group = np.asarray(L, float), self.group_of[material]
        if len(L) and (L[0] == L).all():
            return np.full(len(L), _star(group, float(L[0]), edge, coolant))
        return published.band_speeds([group] * len(L), L, [edge] * len(L), [coolant] * len(L))

    def unseen_level(self, kind, name):
        """Effect on log life (n_draws,) of a material, machine or stock that has no cuts."""
        key = kind, name
        if key not in self._unseen:
            spread = prior("spread", kind, positive=True)
            rng = self._rng(key)
            at = [i for i, p in enumerate(self.layout.priors) if p.name.startswith(kind + "[")]
            s = draw_spread(self.theta[:, at], spread, rng) if at else np.exp(
                spread.mean + spread.sd * rng.standard_normal(len(self.theta)))
            self._unseen[key] = s * rng.standard_normal(len(self.theta))
        return self._unseen[key]

    def _draw(self, kind, name, p):
        key = kind, name
        if key not in self._unseen:
            self._unseen[key] = p.mean + p.sd * self._rng(key).standard_normal(len(self.theta))
        return self._unseen[key]

    def _rng(self, key):
        return np.random.default_rng([self.seed, *"|".join(key).encode()])
