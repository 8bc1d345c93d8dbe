"""Shops drawn from the model's own priors: the arrays and the parameters that made them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from bandtrial.wear.calibration import draw_theta, made_by
from bandtrial.wear.design import clock_design, share_design, signal_design
from bandtrial.wear.layout import build
from bandtrial.wear.rows import Rows, SignalRows
from bandtrial.wear.signals import BY_NAME

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


def shop(seed, n_bands=None, **kw):
    """Rows with simulated signals and ends, the layout and the parameters that made them.

    Each band gets cuts of random length until it dies or its log ends; about half the bands die.
    """
    rng = np.random.default_rng(seed)
    n_bands = n_bands or int(rng.integers(8, 17))
    rows = design(rng, n_bands, **kw)
    layout = build(rows)
    theta = draw_theta(layout, rng)
    w = np.exp(theta[layout.band_scatter]) * rng.standard_normal(n_bands)
    share = rng.gamma(2.0, 0.5, len(rows.contact)) * (1.6 * rng.random(n_bands))[rows.band] / rows.counts[rows.band]
    rows = replace(rows, contact=20.0 * share)  # chosen by the shop without knowing tau
    return made_by(rows, layout, theta, w, rng), layout, theta, w
