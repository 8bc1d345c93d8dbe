"""Fit a study: from its tables to the parameters and their draws."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
from threadpoolctl import ThreadpoolController

from ..inference import Mode, climb, sound_covariance
from ..progress import Progress
from ..sawing import BROKEN
from ..study.model import Study
from . import posterior, top
from .density import Density
from .ends import Ends, start
from .fit import Fit, FitError, Fitted, Welds
from .layout import Layout, build
from .posterior import Draws, Seen
from .rows import Rows, from_tables
from .signals import SIGNALS

REGULAR = 200.0  # Weibull shape above which lives agree to half a percent: no band life is so regular
FEW = 6_000  # cuts up to which the climb starts from the priors
KEPT = 31 << 20  # bytes of working memory the C library is told to keep (the most it can be told)
MANY = 12_000  # cuts above which draws are normal about the top: each density would take too long


def fit(study: Study, priors: bool = True, draws: int = 2000, seed: int = 1, seen: Seen | None = None) -> Fit:
    """Fit the cutting-rate and wear model to a study (study.open_study).

    priors: True for the whole model; False for plain maximum likelihood on the bands' ends alone, without
    signals, band effects or pooling (the Weibull accelerated-life regression on accumulated exposure).
    draws: posterior draws kept; seed: of the random numbers; seen: see `Seen`, a terminal is told if it is not given.
    Raises FitError.
    """
    from ..study import band_table, cut_table, weld_table

    cuts, bands = cut_table(study), band_table(study)
    edge_of = {name: stock.edge for name, stock in study.band_stock.items()}
    rows, table = from_tables(cuts, bands, edge_of, SIGNALS, set_only=not priors)
    _check(rows, table, priors)
    told = Progress("fitting the log")
    try:
        fitted = fit_rows(rows, priors, draws, seed, seen or told)
    finally:
        told.done()
    used = bands.set_index("band").loc[list(rows.bands)]
    cycles = table.groupby(["band", "weld"], sort=False)["bend_cycles"].sum()  # a weld made anew begins anew
    ends = weld_table(study, cuts).set_index(["band", "weld"])["end"].loc[cycles.index]
    welds = Welds(cycles.to_numpy(), ends.isin(BROKEN).to_numpy())
    return Fit(study, cuts, table, used, welds, fitted, seed)


def fit_rows(rows: Rows, priors: bool = True, draws: int = 2000, seed: int = 1, seen: Seen | None = None) -> Fitted:
    """Fit arrays (wear.rows.Rows): `Fitted`.

    On one thread: the matrices are small, so that threads wait for each other, and sums that are split among them have
    other last digits on machines with other numbers of processors.
    """
    with _libraries().limit(limits=1, user_api="blas"):
        np.empty(KEPT, np.uint8)  # glibc hands back memory only above the largest block freed so far: no page faults
        rng = np.random.default_rng(seed)
        return _with_priors(rows, draws, rng, seen) if priors else _without_priors(rows, draws, rng)


@cache
def _libraries() -> ThreadpoolController:
    """The libraries of linear algebra at work; looked up once, as it takes milliseconds."""
    return ThreadpoolController()


def _with_priors(rows: Rows, draws: int, rng: np.random.Generator, seen: Seen | None) -> Fitted:
    layout = build(rows)
    density = Density(rows, layout)

    def stepped(step: int) -> None:
        if seen:
            seen(0.1 * min(step / 20, 1.0), "finding the best point")

    with np.errstate(all="ignore"):
        best = top.climb_from_afar(density, _first_guess(rows, layout, stepped), seen=stepped)
        weighted = posterior.correlated(density, best)
        if any(s.weight < 1 for s in weighted.signals):
            density = Density(weighted, layout)
            best = top.climb(density, best.theta, best.w, best.g, seen=stepped)
        if len(rows.contact) > MANY:
            return Fitted(density.rows, layout, density, best, posterior.normal(density, best, draws, rng))
        return Fitted(density.rows, layout, density, best, posterior.sample(density, best, draws, rng, seen))


def _first_guess(rows: Rows, layout: Layout, seen: Callable[[int], None]) -> np.ndarray:
    """Where to start the climb: the priors; for a long log, the best point of a part of its bands."""
    if len(rows.contact) < 3 * FEW:
        return layout.mean.copy()
    every = int(np.ceil(len(rows.contact) / FEW))
    part = Density(rows.of_bands(np.arange(0, len(rows.heads), every)), layout)
    return np.asarray(top.climb_from_afar(part, layout.mean.copy(), 1.0, seen).theta)


def _without_priors(rows: Rows, draws: int, rng: np.random.Generator) -> Fitted:
    rows = replace(rows, signals=())
    layout = build(rows, pooled=False)
    ends = Ends(rows, layout.columns)
    mode = climb(ends.slopes, start(rows, layout.columns), tolerance=1e-5, longest=3.0)
    _check_maximum(mode, rows, layout)
    L = np.linalg.cholesky(sound_covariance(mode.precision, layout.sd, least=1e-9))
    theta = mode.theta + rng.standard_normal((draws, len(mode.theta))) @ L.T
    drawn = Draws(
        theta, np.zeros((1, len(rows.heads), 0)), "normal", float(draws), 0.0, theta.std(axis=0) / np.sqrt(draws), 1.0,
        0, 0,
    )  # fmt: skip
    return Fitted(rows, layout, Density(rows, layout), mode, drawn)


def _check(rows: Rows, table: pd.DataFrame, priors: bool) -> None:
    if len(table) == 0:
        raise FitError(
            "No cut can be fitted: the study has no sawing cut with a time, a speed, a thickness and "
            "a travel. Log cuts first: `bandtrial plan` lays out the first ones, `bandtrial check` says what is "
            "missing."
        )
    if not priors and not rows.worn.any():
        raise FitError(
            "Plain maximum likelihood has no answer: no band has ended by wear (dull, crooked or "
            "stripped), so the likelihood rises for ever with the life. Fit with priors, or log "
            "bands until one is worn out."
        )


def _check_maximum(mode: Mode, rows: Rows, layout: Layout) -> None:
    """Plain maximum likelihood has a maximum only where the lives scatter about what the settings explain."""
    regular = mode.theta[layout.shape] > np.log(REGULAR)
    flat = not np.isfinite(mode.precision).all() or np.linalg.eigvalsh(mode.precision).min() <= 0
    if regular or flat:
        worn = int(rows.worn.sum())
        raise FitError(
            f"Plain maximum likelihood has no answer: {worn} band{'s' * (worn != 1)} ended by wear, which shows no "
            "scatter between lives, so the likelihood rises for ever with the Weibull shape. Fit with priors, or log "
            "bands until more are worn out."
        )
