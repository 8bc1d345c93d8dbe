"""The top of the posterior, with the effects of bands and groups integrated out by Laplace's method, and the map of
standard normals to what lies about it.

Steps are Gauss and Newton's in parameters and band effects together; the merit is the joint density less half the log
determinant of the effects' curvature. Of that determinant, only what the noises and the spreads do to it is in the
slopes: the top starts the draws, it is no answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .curvature import Curvature, curvature, variances
from .terms import WEAR_END

FIRST, HARDER, SOFTER = 0.1, 6.0, 0.2  # damping after a first failure; its factor after others, and after a good step
LONGEST = 2.0  # of a step in a parameter
HARDEST = 1e6  # damping at which a climb ends
NEAR, LITTLE, PATIENCE = 2.0, 0.1, 3  # decrement near the top; gain that is next to none, so often there: arrived


@dataclass
class Top:
    """Where a climb ended: theta (d,), w (m,), g (list of (m,)), merit, curvature, steps, decrement left, arrived?
    pull_end (m,) and pull_w (list of (m,)): slopes with w of each band's end and of each signal's readings there."""

    theta: np.ndarray
    w: np.ndarray
    g: list
    merit: float
    curvature: Curvature
    steps: int
    decrement: float
    converged: bool
    pull_end: np.ndarray
    pull_w: list


class _Here:
    """A point of the climb: merit, slopes, curvature."""

    def __init__(self, density, theta, w, g):
        self.theta, self.w, self.g, self.layout = theta, w, g, density.layout
        value, by_theta, by_w, by_g = density.value_and_slopes(theta[:, None], w[:, None], [a[:, None] for a in g])
        self.by_theta, self.by_w, self.by_g = by_theta[:, 0], by_w[:, 0], [a[:, 0] for a in by_g]
        self.curvature = c = curvature(density, theta, w, g)
        self.schur, self.precision, self.dw, self.V_groups = c.eliminated
        self.merit = float(value[0]) - 0.5 * float(np.log(self.schur).sum() + sum(np.log(gg).sum() for gg in c.gg))
        at = density.layout.pooled_at
        self.merit -= 0.5 * float(np.linalg.slogdet(self.precision[np.ix_(at, at)])[1])
        self._determinant(density)

    def _determinant(self, density):
        """Slopes of -1/2 log det of the effects' curvature with the log spreads and the log noises."""
        c, lay = self.curvature, density.layout
        for (_, place, own), V in zip(c.groups, self.V_groups, strict=True):
            self.by_theta[place] += own * np.sum(V)
        V_w, *V_g = variances(c)
        self.by_theta[lay.band_scatter] += np.sum(V_w) * np.exp(-2 * self.theta[lay.band_scatter])
        for i, (block, V) in enumerate(zip(lay.blocks, V_g, strict=True)):
            self.by_theta[block.band] += np.sum(V) * np.exp(-2 * self.theta[block.band])
            s = density.rows.signals[i]
            sd = np.exp(min(self.theta[block.noise], 20.0))
            share = (sd / s.scale(sd)) ** 2
            own = V_w * (c.wg[i] / c.gg[i]) * c.wg[i]
            self.by_theta[block.noise] += share * float(np.sum(V * c.data[i] + V_w * self._ww(i, density) - 2 * own))

    def _ww(self, i, density):
        """Bound from below of what signal i gives of the precision of w."""
        c = self.curvature
        return np.where(c.data[i] > 0, c.wg[i] ** 2 / np.maximum(c.data[i], 1e-300), 0.0)

    def step(self, damping):
        """Damped step in theta, then w and g at their own best along it; decrement of the undamped one."""
        c = self.curvature
        total = self.by_w - sum(wg / gg * s for wg, gg, s in zip(c.wg, c.gg, self.by_g, strict=True))
        gradient = self.by_theta + self.dw.T @ total
        for C, gg, s in zip(c.with_g, c.gg, self.by_g, strict=True):
            gradient -= (C / gg[:, None]).T @ s
        P = self.precision + (1e-9 + damping) * np.diag(np.maximum(np.diag(self.precision), 1e-9))
        move = np.linalg.solve(P, gradient)
        decrement = (
            float(gradient @ move)
            if damping == 0
            else float(gradient @ np.linalg.solve(self.precision + 1e-9 * np.diag(np.diag(self.precision)), gradient))
        )
        move *= min(1.0, LONGEST / max(float(np.abs(move).max()), 1e-300))
        for (at, place, own), V in zip(c.groups, self.V_groups, strict=True):
            move[at] += self.theta[at] * _grown(1 / V, own, move[place])
        lay = self.layout
        shrunk = self.w * _grown(self.schur, np.exp(-2 * self.theta[lay.band_scatter]), move[lay.band_scatter])
        dw = np.clip(total / self.schur + self.dw @ move + shrunk, -1.0, 1.0)
        by_band = []
        for s, wg, gg, C, g, block in zip(self.by_g, c.wg, c.gg, c.with_g, self.g, lay.blocks, strict=True):
            shrunk = g * _grown(gg, np.exp(-2 * self.theta[block.band]), move[block.band])
            by_band.append(np.clip((s - wg * dw - C @ move) / gg + shrunk, -2.0, 2.0))
        return move, dw, by_band, decrement


def _grown(precision, own, move):
    """Share by which effects known to `precision`, `own` of it from their spread, grow as log spread does by `move`."""
    return precision / (precision - own + own * np.exp(-2 * move)) - 1


def climb(density, theta, w=None, g=None, tolerance=0.05, most=60, seen=None):
    """`Top` from a start theta (d,). Ends where the decrement of the next step is at most `tolerance`, or where
    steps gain next to nothing. seen(steps): called at each step; may raise to stop."""
    zero = np.zeros(density.n_bands)
    here = _Here(density, theta, zero if w is None else w, [zero for _ in density.rows.signals] if g is None else g)
    damping, converged, decrement, step, creeping = 0.0, False, np.inf, 0, 0
    for step in range(1, most + 1):
        if seen:
            seen(step)
        move, dw, dg, decrement = here.step(damping)
        new = _Here(density, here.theta + move, here.w + dw, [a + b for a, b in zip(here.g, dg, strict=True)])
        gain = new.merit - here.merit
        creeping = creeping + 1 if gain < LITTLE and decrement < NEAR else 0
        if creeping == PATIENCE:
            here = new if gain > 0 else here
            break
        if not np.isfinite(gain) or gain < -1e-3:
            damping = max(HARDER * damping, FIRST)
            if damping > HARDEST:
                break
            continue
        here, converged = new, decrement <= tolerance
        damping = damping * SOFTER if damping * SOFTER > 1e-3 else 0.0
        if converged:
            break
    _, (_, end, *pulls), *_ = density.band_scores(here.theta[:, None], here.w[:, None], [a[:, None] for a in here.g])
    return Top(
        here.theta,
        here.w,
        here.g,
        here.merit,
        here.curvature,
        step,
        decrement,
        converged or decrement < NEAR,
        end[:, 0],
        [own[:, 0] for own in pulls],
    )


class Map:
    """(theta, w) of the first of z (D, N), which is near to standard normal where the posterior is near to its `Top`,
    with the log of the volume and slopes carried back; the others of z place the signals' levels (`levels`).

    Parameters but the effects of groups are top + L z. The effects of groups, then those of bands, follow what came
    before to first order, and shrink and scatter as their spread s and the noise at theta say, so that no funnel is
    left. For a group u = f (u^ + B (theta - top)) + R z, f: share D/(D + 1/s^2) over that at the top, of information D;
    for bands

        w = w^ + pull / P + f dw (theta - top) + z_w / P^(1/2),   P = D + 1/s_w^2,

    pull: what ends, readings and spread do to w where it was at the top; f: share D/P of the data over that at the top;
    D: their information, of readings in proportion to 1/scale^2 of the noise, of ends to K^2.
    """

    def __init__(self, top, density):
        c, lay = top.curvature, density.layout
        self.top, self.layout, self.signals = top, lay, density.rows.signals
        schur, precision, self.dw, _ = c.eliminated
        d, m = len(top.theta), len(top.w)
        self.grouped, self.core = lay.pooled_at, np.setdiff1d(np.arange(d), lay.pooled_at)
        self._of_groups(precision, lay)
        self.of_w = [ww - wg**2 / gg for ww, wg, gg in zip(c.data_ww, c.wg, c.gg, strict=True)]
        self.of_end = np.maximum(schur - np.exp(-2 * top.theta[lay.band_scatter]) - sum(self.of_w), 1e-12)
        self.shape = WEAR_END.shape(top.theta[lay.shape])[0]
        worn = density.rows.worn
        self.pull_end = np.where(worn, -self.of_end * np.clip(c.log_E, -2, 2), top.pull_end)
        self.pull_w = top.pull_w
        self.precision_w = schur
        self.scales = [s.scale(np.exp(top.theta[b.noise])) for s, b in zip(self.signals, lay.blocks, strict=True)]
        self.size = d + m * (1 + len(c.gg))
        self.parts = [slice(0, d), *(slice(d + i * m, d + (i + 1) * m) for i in range(1 + len(c.gg)))]

    def _of_groups(self, precision, lay):
        """How the effects of groups follow the other parameters, and the roots of what is left to both."""
        at, core = self.grouped, self.core
        among, own = precision[np.ix_(at, at)], precision[np.ix_(core, core)]
        self.follow = -np.linalg.solve(among, precision[np.ix_(at, core)])
        self.root = _root(own + precision[np.ix_(core, at)] @ self.follow, lay.sd[core])
        self.precision_u = np.diag(among).copy()
        self.root_u = np.sqrt(self.precision_u)[:, None] * _root(among, lay.sd[at]) if len(at) else np.zeros((0, 0))
        self.kinds = [(np.searchsorted(at, group.at), group.spread) for group in lay.groups]
        self.data_u = self.precision_u.copy()
        for places, spread in self.kinds:
            self.data_u[places] -= np.exp(-2 * self.top.theta[spread])
        np.maximum(self.data_u, 0.0, out=self.data_u)

    def place(self, z):
        """theta (d, N), w (m, N), the levels' z (list of (m, N)), log volume (N,), and what `carried` needs."""
        lay, top = self.layout, self.top
        theta, kept_u = self._parameters(z[self.parts[0]])
        shift = theta - top.theta[:, None]
        noises = [self._ratio(i, theta) for i in range(len(self.signals))]
        K, by_shape = WEAR_END.shape(theta[lay.shape])
        ended = (K / self.shape) ** 2  # its information goes as K^2
        data = self.of_end[:, None] * ended
        data += sum(a[:, None] * ratio for a, (ratio, _) in zip(self.of_w, noises, strict=True))
        data_then = self.of_end + sum(self.of_w)
        own = np.exp(-2 * theta[lay.band_scatter])
        w, kept_w = _shrunk(self.dw @ shift, z[self.parts[1]], data, own, data_then[:, None], self.precision_w[:, None])
        pull = self.pull_end[:, None] * ended - own * top.w[:, None]
        pull += sum(a[:, None] * ratio for a, (ratio, _) in zip(self.pull_w, noises, strict=True))
        w += top.w[:, None] + pull / (data + own)
        return (
            theta,
            w,
            [z[part] for part in self.parts[2:]],
            kept_w[-1] + kept_u[-1],
            (z[self.parts[1]], noises, (ended, 2 * ended * by_shape), pull, kept_w, kept_u),
        )

    def theta(self, part):
        """Parameters (d, ...) at the parameters' part of z (d, ...)."""
        return self._parameters(part.reshape(len(part), -1))[0].reshape(part.shape)

    def _parameters(self, part):
        """Parameters (d, N) at the parameters' part of z (d, N), and what `_carried` needs of the groups' effects."""
        theta = np.empty(part.shape)
        shift = self.root @ part[self.core]
        theta[self.core] = self.top.theta[self.core, None] + shift
        middle = self.top.theta[self.grouped, None] + self.follow @ shift
        scaled = self.root_u @ part[self.grouped]
        value, kept = _shrunk(middle, scaled, *self._information(theta))
        theta[self.grouped] = value
        return theta, (scaled, kept, kept[-1])

    def _information(self, theta):
        """Of each effect of a group: what the data tell, its spread at theta (u, N), and both at the top (u, 1)."""
        own = np.empty((len(self.grouped), theta.shape[1]))
        for places, spread in self.kinds:
            own[places] = np.exp(-2 * theta[spread])
        return self.data_u[:, None], own, self.data_u[:, None], self.precision_u[:, None]

    def _ratio(self, i, theta):
        """Information of a reading over that at the top (N,), and its slope with the log noise."""
        noise = np.exp(np.minimum(theta[self.layout.blocks[i].noise], 20.0))
        scale = self.signals[i].scale(noise)
        ratio = (self.scales[i] / scale) ** 2
        return ratio, -2 * ratio * (noise / scale) ** 2

    def carried(self, kept, by_theta, by_w, by_z):
        """Slopes with z (D, N) of log density and log volume, from those of the log density with theta, w and the
        levels' z; by_theta is changed."""
        z, noises, (_, by_ended), pull, kept_w, (scaled, kept_u, _) = kept
        lay, out = self.layout, np.empty((self.size, by_w.shape[1]))
        for part, by in zip(self.parts[2:], by_z, strict=True):
            out[part] = by
        own, by_middle, by_data, by_spread = _carried(by_w, z, kept_w)
        out[self.parts[1]] = own
        precision, own_then = kept_w[2], kept_w[4]
        each = by_w / precision  # with the pull, whose share moves w
        by_data -= each * pull / precision
        by_theta[lay.band_scatter] += np.sum(
            by_spread + 2 * own_then * each * (self.top.w[:, None] + pull / precision), axis=0
        )
        by_theta[lay.shape] += by_ended * (np.sum(by_data * self.of_end[:, None], axis=0) + self.pull_end @ each)
        for a, own_pull, block, (_, by_noise) in zip(self.of_w, self.pull_w, lay.blocks, noises, strict=True):
            by_theta[block.noise] += by_noise * (np.sum(by_data * a[:, None], axis=0) + own_pull @ each)
        by_theta += self.dw.T @ by_middle
        by_scaled, by_middle, _, by_spread = _carried(by_theta[self.grouped], scaled, kept_u)
        for places, spread in self.kinds:
            by_theta[spread] += by_spread[places].sum(axis=0)
        by_part = out[self.parts[0]]
        by_part[self.core] = self.root.T @ (by_theta[self.core] + self.follow.T @ by_middle)
        by_part[self.grouped] = self.root_u.T @ by_scaled
        return out


def _shrunk(middle, z, data, own, data_then, precision_then):
    """Effects (m, N): f middle + z / precision^(1/2), f = data / precision over what it was at the top.

    Returns them and (middle, f, precision, data, own, log volume)."""
    precision = data + own
    factor = np.where(data_then > 0, data * precision_then / (np.maximum(data_then, 1e-300) * precision), 1.0)
    return factor * middle + z / np.sqrt(precision), (
        middle,
        factor,
        precision,
        data,
        own,
        -0.5 * np.log(precision).sum(axis=0),
    )


def _carried(by, z, kept):
    """Slopes with z, the middle, the data's information and the log spread of each effect (m, N)."""
    middle, factor, precision, data, own, _ = kept
    root = 1 / np.sqrt(precision)
    by_factor = by * factor * middle  # with log f
    by_precision = -0.5 * (by * z * root + 1)  # with log precision, that of the volume with it
    by_data = by_factor * own / np.maximum(data * precision, 1e-300) + by_precision / precision
    by_spread = 2 * own / precision * (by_factor - by_precision)
    return by * root, by * factor, by_data, by_spread


def _root(precision, sd):
    """L with L L' = precision^-1, whose eigenvalues in units of the priors' sd are lifted where hardly positive."""
    scaled = precision * np.outer(sd, sd)
    try:
        lower = np.linalg.cholesky(scaled)
        if np.diag(lower).min() > 0.4:
            return sd[:, None] * np.linalg.inv(lower).T
    except np.linalg.LinAlgError:
        pass
    values, vectors = np.linalg.eigh(scaled)
    return sd[:, None] * vectors / np.sqrt(np.maximum(values, 0.3))
