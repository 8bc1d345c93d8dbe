"""Shops drawn from the model's own priors: the arrays and the parameters that made them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from bandtrial.wear.density import Density
from bandtrial.wear.design import clock_design, share_design, signal_design
from bandtrial.wear.layout import build
from bandtrial.wear.rows import Rows, SignalRows
from bandtrial.wear.signals import BY_NAME
from bandtrial.wear.terms import NU, WEAR_END

THINNEST = 5.0
SIGNALS = {"rate": ("motor_power", "deviation"), "force": ("chip_load", "deviation")}


def design(rng, n_bands, feed="rate", signals=None, materials=3, cuts=(8, 28)):
    """Mixed work on one machine, fed by a set rate or force: columns of the cut table and the band of each row."""
    sizes = rng.integers(*cuts, n_bands)
    band = np.repeat(np.arange(n_bands), sizes)
    n = len(band)
    job = rng.integers(0, 3, n) if materials == 3 else np.zeros(n, int)
    material = np.array(["plate", "bar", "sheet"], object)[job]
    V0 = np.array([36.0, 75.0, 90.0])[job]
    columns = {
        "band_speed": V0 * np.exp(rng.normal(0, 0.18, n)),
        "published_band_speed": V0,
        "chip_load": 10 * np.exp(rng.normal(0, 0.3, n)),
        "material": material,
        "work_thickness": np.array([19.0, 38.0, 30.0])[job] * np.exp(rng.normal(0, 0.2, n)),
        "machine": np.full(n, "saw1", object),
        "stock": np.full(n, "s8", object),
        "coolant": np.full(n, "flood", object),
        "edge": np.full(n, "bimetal", object),
        "feed_mode": np.full(n, feed, object),
        "force_per_tooth": np.exp(rng.normal(0, 0.3, n)),  # over the reference force
    }
    levels = {
        "material": list(dict.fromkeys(material)),
        "machine": ["saw1"],
        "stock": ["s8"],
        "coolant": [],
        "edge": ["bimetal"],
    }
    X = clock_design(columns, levels, ["bimetal"])
    heads = np.flatnonzero(np.diff(band, prepend=-1))
    blocks = []
    for name in signals or SIGNALS[feed]:
        S = signal_design(BY_NAME[name], columns, levels)
        keep = np.sort(rng.choice(n, size=int(0.9 * n), replace=False))
        sb = band[keep]
        sh = np.flatnonzero(np.diff(sb, prepend=-1))
        blocks.append(
            SignalRows(
                name,
                keep,
                np.zeros(len(keep)),
                S.take(keep),
                sb,
                sh,
                sb[sh],
                share_design(BY_NAME[name], columns)[keep],
            )
        )
    rows = Rows(
        np.ones(n),
        np.full(n, 0.05),
        X,
        band,
        heads,
        np.zeros(n_bands, bool),
        tuple(f"B{i}" for i in range(n_bands)),
        levels,
        tuple(blocks),
    )
    return rows


def draw_theta(layout, rng):
    theta = layout.mean + layout.sd * rng.standard_normal(len(layout.mean))
    for group in layout.groups:
        theta[group.at] = rng.standard_normal(len(group.at)) * np.exp(theta[group.spread])
    return theta


def shop(seed, n_bands=None, **kw):
    """Rows with simulated signals and ends, the layout and the parameters that made them.

    Each band gets cuts of random length until it dies or its log ends; about half the bands die.
    """
    rng = np.random.default_rng(seed)
    n_bands = n_bands or int(rng.integers(8, 17))
    rows = design(rng, n_bands, **kw)
    layout = build(rows)
    theta = draw_theta(layout, rng)
    tau = np.exp(rows.X.times(layout.coefficients(theta[:, None]))[:, 0])
    w = np.exp(theta[layout.band_scatter]) * rng.standard_normal(n_bands)
    per_band = np.diff(np.append(rows.heads, len(rows.contact)))
    share = rng.gamma(2.0, 0.5, len(rows.contact)) * (1.6 * rng.random(n_bands))[rows.band] / per_band[rows.band]
    contact = 20.0 * share  # chosen by the shop without knowing tau
    step = contact / tau * np.exp(w)[rows.band]
    E = rows.running(step)
    life = rng.weibull(WEAR_END.shape(theta[layout.shape])[0], n_bands)
    alive = E - step < life[rows.band]
    died = np.array([(E[rows.band == b] >= life[b]).any() for b in range(n_bands)])
    dies_here = alive & (life[rows.band] <= E)
    contact[dies_here] *= ((life[rows.band] - E + step) / step)[dies_here]
    step = contact / tau * np.exp(w)[rows.band]
    rows = keep_rows(rows, alive, contact, died, dies_here)
    rows = finish(rows, layout, theta, w, rng)
    return stopped(rows) if rows.signals and rows.signals[0].name == "chip_load" else rows, layout, theta, w


def stopped(rows):
    """The rows up to each band's first chip seen that is THINNEST times as thin as its first one: it is taken off."""
    s = rows.signals[0]
    first = np.zeros(len(rows.heads))
    first[s.of] = s.y[s.heads]
    done = np.zeros(len(rows.contact))
    done[s.rows] = s.y - first[s.bands] > np.log(THINNEST)
    before = rows.running(done) - done
    kept = before == 0
    died = rows.worn & (rows.totals(~kept) == 0)
    return keep_rows(rows, kept, rows.contact, died, np.zeros(len(kept), bool))


def keep_rows(rows, alive, contact, died, dies_here):
    """The rows before a band's death; the dying cut wears but carries no signal."""
    new_place = np.cumsum(alive) - 1
    band = rows.band[alive]
    blocks = []
    for s in rows.signals:
        ok = alive[s.rows] & ~dies_here[s.rows]
        at = new_place[s.rows[ok]]
        sb = band[at]
        sh = np.flatnonzero(np.diff(sb, prepend=-1))
        blocks.append(SignalRows(s.name, at, s.y[ok], s.X.take(ok), sb, sh, sb[sh], s.share[ok]))
    return Rows(
        contact[alive],
        rows.left[alive],
        rows.X.take(alive),
        band,
        np.flatnonzero(np.diff(band, prepend=-1)),
        died,
        rows.bands,
        rows.levels,
        tuple(blocks),
    )


def finish(rows, layout, theta, w, rng):
    """The rows with readings drawn: each band's own level, then Student's t."""
    density, blocks = Density(rows, layout), []
    for i, (s, block) in enumerate(zip(rows.signals, layout.blocks, strict=True)):
        g = np.exp(theta[block.band]) * rng.standard_normal(len(rows.heads))
        mean, _ = density.at_readings(i, theta[:, None], w[:, None], g[:, None])
        blocks.append(replace(s, y=mean[:, 0] + np.exp(theta[block.noise]) * rng.standard_t(NU, len(mean))))
    return replace(rows, signals=tuple(blocks))
