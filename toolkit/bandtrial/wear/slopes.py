"""Gradient and curvature of the joint density at one parameter vector, in time linear in the cuts.

The curvature of the signals is the one expected from the t law, that of the ends is exact. The band effects
are eliminated from it (a Schur complement per band), which gives the precision of the parameters alone.
"""
from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .effects import newton_step
from .joint import INFO_MEAN, INFO_SCALE, NU, TOP
from .signals import risen

CHUNK = 8192      # cuts worked on at once: its arrays stay in the processor's cache, whatever the length of the log


@dataclass
class Slopes:
    """At theta (d,): merit (log marginal density by Laplace), gradient (d,), precision (d, d), modes of the
    band effects w (1, m), g list of (1, m), and their change with theta: dw (m, d), dg list of (m, d);
    w_sd (m,): sd of w given theta; log_E (m,) and dlog_E (m, d): log wear used at each band's end."""

    theta: np.ndarray
    merit: float
    gradient: np.ndarray
    precision: np.ndarray
    w: np.ndarray
    g: list
    dw: np.ndarray
    dg: list
    w_sd: np.ndarray
    log_E: np.ndarray
    dlog_E: np.ndarray


def slopes(joint, theta, w=None, g=None, inner=4, settled=1e-2):
    """`Slopes` at theta (d,), band effects started from w (1, m) and g if given.

    The band effects are settled when a Newton step moves none by more than `settled` of its sd."""
    row = theta[None, :]
    base = joint.base(row)
    if w is None:
        w, g = joint.no_effects(1)
    e = joint.effects(row, base, w, g)
    for _ in range(inner):
        w, g, e, moved = _inner(joint, row, base, w, g, e)
        if moved < settled:
            break
    sums = _Sums(joint, theta)
    for bands in chunks(joint.rows):
        exposure = _exposure(joint, theta, bands)
        _add_signals(joint, theta, base, w, g, bands, exposure, sums)
        _add_ends(joint, theta, base, w, bands, exposure, sums)
    return _assemble(joint, theta, base.log_T[0], e, w, g, sums)


def _inner(joint, row, base, w, g, e):
    """One Newton step of the band effects, halved until every band's density rises."""
    dw, dg = newton_step(e)
    scale = np.ones_like(w)
    for _ in range(12):
        new_w, new_g = w + scale * dw, [a + scale * b for a, b in zip(g, dg, strict=True)]
        new = joint.effects(row, base, new_w, new_g)
        worse = new.log_p < e.log_p - 1e-9 * (1 + np.abs(e.log_p))
        if not worse.any():
            break
        scale = np.where(worse, scale / 3, scale)
    moved = max(float(np.max(np.abs(scale * d) * np.sqrt(c), initial=0.0))
                for d, c in zip([dw, *dg], [e.schur, *e.gg], strict=True))
    return new_w, new_g, new, moved


def chunks(rows):
    """Slices of bands whose cuts number at most CHUNK (or one band's, if it has more)."""
    ends = np.append(rows.heads[1:], len(rows.contact))
    first = 0
    while first < len(ends):
        start = rows.heads[first]
        stop = max(int(np.searchsorted(ends, start + CHUNK, side="right")), first + 1)
        yield slice(first, stop)
        first = stop


class _Sums:
    """Accumulators: gradient, curvature, and its cross terms with the band effects."""

    def __init__(self, joint, theta):
        d, m = len(theta), joint.n_bands
        self.gradient, self.curvature = np.zeros(d), np.zeros((d, d))
        self.with_w = np.zeros((m, d))
        self.with_g = [np.zeros((m, d)) for _ in joint.rows.signals]
        self.bends = [np.zeros((2, m, d)) for _ in joint.rows.signals]    # of sum slope and sum slope^2 / 2 with theta
        self.bends_w = [np.zeros((2, m)) for _ in joint.rows.signals]     # and with w
        self.log_E = np.zeros((m, d))          # d log E / d theta at each band's end


def _exposure(joint, theta, bands):
    """Rows of a chunk: place (slice), step of wear (n,), its running sum and that of its slopes (n, p)."""
    rows, lay = joint.rows, joint.layout
    first = rows.heads[bands.start]
    stop = rows.heads[bands.stop] if bands.stop < len(rows.heads) else len(rows.contact)
    part = slice(first, stop)
    eta = theta[lay.eta]
    factor = np.where(joint.eta_positive, np.exp(eta), 1.0)
    coefficient = np.where(joint.eta_positive, factor, eta)
    X = joint.X[:, part]                                             # (p, n)
    step = rows.contact[part] * np.exp(np.minimum(-(coefficient @ X), TOP))
    slope = -(X * factor[:, None]) * step                            # d step / d theta
    heads, band = rows.heads[bands] - first, rows.band[part] - bands.start
    run = np.cumsum(np.vstack([step, slope]), axis=1)
    run -= (run[:, heads] - np.vstack([step, slope])[:, heads])[:, band]
    return part, step, slope, run[0], run[1:], factor


def _add_signals(joint, theta, base, w, g, bands, exposure, sums):
    rows, lay = joint.rows, joint.layout
    if not rows.signals:
        return
    part, step, slope, run, run_slope, _ = exposure
    length = np.exp(theta[lay.break_in_length])
    for i, (s, block) in enumerate(zip(rows.signals, lay.blocks, strict=True)):
        a, b = np.searchsorted(s.bands, [bands.start, bands.stop])
        if a == b:
            continue
        at, band = s.rows[a:b] - part.start, s.bands[a:b]
        first_band, last_band = np.searchsorted(s.of, [bands.start, bands.stop])
        heads, of = s.heads[first_band:last_band] - a, s.of[first_band:last_band]
        left, e_w = rows.left[s.rows[a:b]], np.exp(w[0, band])
        E = (run[at] - left * step[at]) * e_w
        dE = (run_slope[:, at] - left * slope[:, at]) * e_w
        log_growth, rise, bend, first, second = _growth(theta, length, block, E, dE, s.share[a:b])
        r = base.above[i][0, a:b] - log_growth - g[i][0, band]
        bent, own = joint.bent[i], joint.own[i]
        J = np.vstack([first, joint.signal_X[i][:, a:b]])
        sigma = base.dulling[i].sigma[0, 0]
        scatter = np.exp(2 * theta[block.noise]) / sigma**2          # d log sigma / d log of the noise
        spread = NU * sigma**2 + r * r
        info = INFO_MEAN / sigma**2
        sums.gradient[own] += J @ ((NU + 1) * r / spread)
        sums.curvature[np.ix_(own, own)] += info * (J @ J.T)
        sums.gradient[block.noise] += scatter * np.sum((NU + 1) * r * r / spread - 1)
        sums.curvature[block.noise, block.noise] += scatter**2 * (b - a) * INFO_SCALE
        place = of[:, None], own[None, :]
        sums.with_w[place] += info * np.add.reduceat(J * rise, heads, axis=1).T
        sums.with_g[i][place] += info * np.add.reduceat(J, heads, axis=1).T
        for bends, bends_w, times in zip(sums.bends[i], sums.bends_w[i], (1.0, rise), strict=True):
            bends[of[:, None], bent] += np.add.reduceat(second * times, heads, axis=1).T
            bends_w[of] += np.add.reduceat(bend * times, heads)


def _growth(theta, length, block, E, dE, x):
    """Of readings (n,) at wear used E with slopes dE (p, n): log growth, its slope `rise` in log E and that of rise;
    then slopes of log growth and of rise with the clock's coefficients, the break-in's length, j, k, d and b (q, n)."""
    j, k = np.exp(theta[[block.break_in, block.dulling]])
    z, fade = E / length, np.exp(-E / length)
    share = 1.0 if block.share is None else np.exp(theta[block.share] * x)
    fading, early, late = (share * part for part in (j * fade, j * (1 - fade), k * E))
    u, by_log_E = early + late, z * fading + late                    # growth of the edge, and its slope in log E
    by_E, by_E_again = fading / length + share * k, fading * (1 - z) / length + share * k
    of_u = np.vstack([dE * by_E, -z * fading, early, late])
    of_slope = np.vstack([dE * by_E_again, -z * fading * (1 - z), z * fading, late])
    if block.share is not None:
        of_u, of_slope = np.vstack([of_u, x * u]), np.vstack([of_slope, x * by_log_E])
    b = None if block.bend is None else theta[block.bend]
    log_growth, steep = risen(u, b)                                  # and its slope with u, whose own is `bend`
    bend, *of_b = [-(steep**2)] if b is None else _of_bend(u, b, steep)
    first, second = steep * of_u, steep * of_slope + bend * by_log_E * of_u
    if of_b:
        first, second = np.vstack([first, of_b[0]]), np.vstack([second, of_b[1] * by_log_E])
    return log_growth, steep * by_log_E, E * (steep * by_E_again + bend * by_log_E * by_E), first, second


def _of_bend(u, b, steep):
    """Of the law with bend b at u (n,), where its slope is `steep`: second slope with u; with b, of law and slope."""
    s = np.sqrt(1 + b * b)
    v, by_b = u * s - b, u * b / s - 1
    root = s / steep
    return -(s**2) * v / root**3, 1 / s + by_b / root, b / s / root - s * v * by_b / root**3


def _add_ends(joint, theta, base, w, bands, exposure, sums):
    """The ends' gradient and exact curvature: coefficient, log shape, and their cross term."""
    rows, lay = joint.rows, joint.layout
    part, step, _, run, run_slope, factor = exposure
    last = rows.last[bands] - part.start
    eta, worn = lay.eta, rows.worn[bands].astype(float)
    shape = np.exp(theta[lay.shape])
    log_E = base.log_T[0, bands] + w[0, bands]
    power = np.exp(np.clip(shape * log_E, -TOP, TOP))
    G = run_slope[:, last] / run[last]                               # d log E / d theta (p, m)
    X_last = (joint.X[:, part] * factor[:, None])[:, last]
    pull = worn * (shape - 1) - shape * power                        # d log p / d log E
    sums.gradient[eta] += G @ pull - X_last @ worn
    weight = step / run[last][rows.band[part] - bands.start]         # share of each cut in E
    scaled = joint.X[:, part] * factor[:, None]
    each = (weight * pull[rows.band[part] - bands.start]) * scaled
    curve = (G * (shape**2 * power)) @ G.T - (each @ scaled.T - (G * pull) @ G.T)
    curve -= np.diag(np.where(joint.eta_positive, G @ pull - X_last @ worn, 0.0))
    sums.curvature[eta, eta] += curve
    k_log_E = shape * log_E
    sums.gradient[lay.shape] += np.sum(worn * (1 + k_log_E) - k_log_E * power)
    sums.curvature[lay.shape, lay.shape] += np.sum(-worn * k_log_E + k_log_E * power * (1 + k_log_E))
    cross = -(worn * shape - shape * power * (1 + k_log_E))
    sums.curvature[eta, lay.shape] += G @ cross
    sums.curvature[lay.shape, eta] += G @ cross
    sums.log_E[bands, eta] = G.T
    sums.with_w[bands, eta] += (G * (shape**2 * power)).T
    sums.with_w[bands, lay.shape] += cross


def _assemble(joint, theta, log_T, e, w, g, sums):
    """Add the prior, the spreads of the band effects, and eliminate the band effects."""
    from ..inference import exchangeable

    lay = joint.layout
    gradient, precision = sums.gradient, sums.curvature
    merit = float(e.log_p.sum()) + float(joint.log_prior(theta[None, :])[0])
    merit += 0.5 * w.shape[1] * (1 + len(g)) * np.log(2 * np.pi) - 0.5 * float(e.log_det.sum())
    dw, dg = _eliminate(e, sums, precision)
    _spread_slopes(lay, theta, e, w, g, gradient, precision)
    _determinant_slopes(joint, theta, e, dw, sums, gradient)
    free = np.ones(len(theta))
    for at, spread in lay.groups:
        _, slope, curve = exchangeable(theta[at], spread)
        gradient[at] += slope
        precision[at, at] += curve
        free[at] = 0.0
    gradient -= free * (theta - lay.mean) / lay.sd**2
    precision[np.diag_indices(len(theta))] += free / lay.sd**2
    return Slopes(theta, merit, gradient, precision, w, g, dw, dg, 1 / np.sqrt(e.schur[0]),
                  log_T + w[0], sums.log_E + dw)


def _eliminate(e, sums, precision):
    """Schur complement of the band effects, in place; returns d w / d theta (m, d) and d g / d theta."""
    toward_w = sums.with_w.copy()
    for wg, gg, C in zip(e.wg, e.gg, sums.with_g, strict=True):
        toward_w -= C * (wg / gg)[0, :, None]
    for gg, C in zip(e.gg, sums.with_g, strict=True):
        precision -= (C / gg[0, :, None]).T @ C
    schur = e.schur[0, :, None]
    precision -= (toward_w / schur).T @ toward_w
    dw = -toward_w / schur
    dg = [-(C + wg[0, :, None] * dw) / gg[0, :, None]
          for wg, gg, C in zip(e.wg, e.gg, sums.with_g, strict=True)]
    return dw, dg


def _spread_slopes(lay, theta, e, w, g, gradient, precision):
    """Log sds of the band effects: d/d log s sum E[(z/s)^2 - 1], information 2 (1 - V/s^2)^2 per band."""
    places = [lay.band_scatter] + [b.band for b in lay.blocks]
    variances = [1 / e.schur] + [1 / gg + (wg / gg) ** 2 / e.schur for wg, gg in zip(e.wg, e.gg, strict=True)]
    for place, z, V in zip(places, [w, *g], variances, strict=True):
        s2 = np.exp(2 * theta[place])
        gradient[place] += np.sum((z**2 + V) / s2 - 1)
        precision[place, place] += np.sum(2 * (1 - np.minimum(V / s2, 1.0)) ** 2)


def _determinant_slopes(joint, theta, e, dw, sums, gradient):
    """-1/2 d log det / d theta of the band effects' curvature, in place: what turns the gradient of the joint
    density into that of the merit. Of an end's curvature K^2 E^K, through K and E; of a signal's, through its
    noise and its slopes d log growth / d w."""
    lay, V = joint.layout, 1 / e.schur[0]
    shape = np.exp(theta[lay.shape])
    share = e.end_curve[0] * V                                      # of the end in the precision of w
    log_E = np.log(np.maximum(e.end_curve[0] / shape**2, 1e-300))   # K log E
    gradient -= 0.5 * shape * share @ (sums.log_E + dw)
    gradient[lay.shape] -= 0.5 * share @ (2 + log_E)
    for i, (s, block) in enumerate(zip(joint.rows.signals, lay.blocks, strict=True)):
        gg, wg, info = e.gg[i][0], e.wg[i][0], e.info[i][0, 0]
        ww = info * joint.band_sum(s, e.slope[i] ** 2)[0]
        data = gg - np.exp(-2 * theta[block.band])
        V_g = 1 / gg + (wg / gg) ** 2 * V
        scatter = np.exp(2 * theta[block.noise]) * info / INFO_MEAN
        gradient[block.noise] += scatter * np.sum(V * ww - 2 * V * wg**2 / gg + V_g * data)
        plain, square = (to_theta + to_w[:, None] * dw
                         for to_theta, to_w in zip(sums.bends[i], sums.bends_w[i], strict=True))
        gradient -= info * V @ (square - (wg / gg)[:, None] * plain)
