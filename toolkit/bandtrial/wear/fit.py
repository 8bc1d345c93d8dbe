"""Fit a study: from its tables to the parameters, their draws, and what the data made of each prior."""

from copy import copy
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import NamedTuple

import numpy as np
from threadpoolctl import ThreadpoolController

from ..inference import Mode, climb, sound_covariance
from ..progress import Progress
from . import posterior, summary, top
from .density import Density
from .ends import Ends, break_draws, start
from .layout import Layout, build, prior
from .posterior import Draws
from .predict import Predictor, Where
from .rows import BREAK_ENDS, Rows, from_tables
from .signals import SIGNALS
from .terms import WEAR_END

REGULAR = 200.0  # Weibull shape above which lives agree to half a percent: no band life is so regular
FEW = 6_000  # cuts up to which the climb starts from the priors
KEPT = 31 << 20  # bytes of working memory the C library is told to keep (the most it can be told)
MANY = 12_000  # cuts above which draws are normal about the top: each density would take too long


class FitError(ValueError):
    """The study can't be fitted as asked; the message says why and what would help."""


@dataclass(frozen=True)
class Fitted:
    """What arrays were fitted: rows, layout, density, the top (with priors) or mode (without), and the draws."""

    rows: Rows
    layout: Layout
    density: Density
    mode: Mode | top.Top
    drawn: Draws


class Welds(NamedTuple):
    """Bending cycles of each weld of a band, and whether it or the band beside it broke then."""

    cycles: np.ndarray
    broken: np.ndarray


def fit(study, priors=True, draws=2000, seed=1, seen=None):
    """Fit the cutting-rate and wear model to a study (study.open_study).

    priors: True for the whole model; False for plain maximum likelihood on the bands' ends alone, without
    signals, band effects or pooling (the Weibull accelerated-life regression on accumulated exposure).
    draws: posterior draws kept; seed: of the random numbers; seen(share done, of what): called as the work goes on, may
    raise to stop it; a terminal is told if it is not given. Raises FitError. Returns a Fit.
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
    welds = Welds(cycles.to_numpy(), ends.isin(BREAK_ENDS).to_numpy())
    return Fit(study, cuts, table, used, welds, fitted, seed)


def fit_rows(rows, priors=True, draws=2000, seed=1, seen=None):
    """Fit arrays (wear.rows.Rows): `Fitted`.

    On one thread: the matrices are small, so that threads wait for each other, and sums that are split among them have
    other last digits on machines with other numbers of processors.
    """
    with _libraries().limit(limits=1, user_api="blas"):
        np.empty(KEPT, np.uint8)  # glibc hands back memory only above the largest block freed so far: no page faults
        rng = np.random.default_rng(seed)
        return _with_priors(rows, draws, rng, seen) if priors else _without_priors(rows, draws, rng)


@cache
def _libraries():
    """The libraries of linear algebra at work; looked up once, as it takes milliseconds."""
    return ThreadpoolController()


def _with_priors(rows, draws, rng, seen):
    layout = build(rows)
    density = Density(rows, layout)

    def stepped(step):
        if seen:
            seen(0.1 * min(step / 20, 1.0), "finding the best point")

    with np.errstate(all="ignore"):
        best = top.climb(density, _first_guess(rows, layout, stepped), seen=stepped)
        weighted = posterior.correlated(density, best)
        if any(s.weight < 1 for s in weighted.signals):
            density = Density(weighted, layout)
            best = top.climb(density, best.theta, best.w, best.g, seen=stepped)
        if len(rows.contact) > MANY:
            return Fitted(density.rows, layout, density, best, posterior.normal(density, best, draws, rng))
        return Fitted(density.rows, layout, density, best, posterior.sample(density, best, draws, rng, seen))


def _first_guess(rows, layout, seen):
    """Where to start the climb: the priors; for a long log, the best point of a part of its bands."""
    if len(rows.contact) < 3 * FEW:
        return layout.mean.copy()
    every = int(np.ceil(len(rows.contact) / FEW))
    part = Density(rows.of_bands(np.arange(0, len(rows.heads), every)), layout)
    return top.climb(part, layout.mean.copy(), tolerance=1.0, seen=seen).theta


def _without_priors(rows, draws, rng):
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


def _check(rows, table, priors):
    if len(table) == 0:
        raise FitError(
            "No cut can be fitted: the study has no sawing cut with a time, a speed, a thickness and "
            "a travel. Log cuts first (bandtrial check STUDY names what is missing)."
        )
    if not priors and not rows.worn.any():
        raise FitError(
            "Plain maximum likelihood has no answer: no band has ended by wear (dull, crooked or "
            "stripped), so the likelihood rises for ever with the life. Fit with priors, or log "
            "bands until one is worn out."
        )


def _check_maximum(mode, rows, layout):
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


class Fit:
    """A fitted study. Draws have axis 0; settings given as arrays are broadcast and run along axis 1.

    parameters: table of what was estimated; theta: draws on the working scale (n_draws, d);
    data: the cuts used; excluded: those left out, with the reason.
    cycles, broken: see Welds.
    """

    def __init__(self, study, cuts, table, bands, welds, fitted, seed):
        self.study, self.data, self.bands, self.seed = study, table, bands, seed
        self.rows, self.layout, self.density = fitted.rows, fitted.layout, fitted.density
        self.mode, self.drawn = fitted.mode, fitted.drawn
        self.theta, self.n_draws, self._thinned, self._whole = self.drawn.theta, len(self.drawn.theta), {}, None
        self.cycles, self.broken = welds
        self._cuts = cuts
        rng = np.random.default_rng([seed, 2])
        priors = prior("break_cycles", positive=True), prior("break_shape", positive=True)
        self.break_scale, self.break_shape = break_draws(self.cycles, self.broken, *priors, self.n_draws, rng)
        self._predict = Predictor(self.rows, self.layout, self.theta, study, seed)

    @cached_property
    def parameters(self):
        """Table of what was estimated, prior beside posterior; of all draws where this fit has some of them."""
        return self._whole.parameters if self._whole else summary.parameters(self)

    @cached_property
    def excluded(self):
        """Table of the cuts left out, with the reason."""
        return summary.left_out(self._cuts, self.data)

    @cached_property
    def draws(self):
        """Table of the draws, a column a parameter on the scale that people use: a row for each draw."""
        return summary.draws(self)

    def predict(self, settings):
        """What a table of settings gives: `settings` with the columns band_speed [m/min], chip_load [um],
        work_thickness [mm], material, machine, stock, and coolant (flood if not there).

        Returns a table with its index: life_low, life, life_high: contact minutes that a typical band lasts (80 %
        interval and median); and for each signal logged on that machine's kind of feed NAME_low, NAME, NAME_high at
        the wear_used of the row (0 if not there), in the unit of its column. Raises KeyError for a column or a name
        that the study has not.
        """
        return summary.predicted(self, settings)

    def to_inference_data(self):
        """The draws as an ArviZ InferenceData (pip install 'bandtrial[arviz]'): posterior by parameter, and the band
        effects by band; ImportError, in words, where ArviZ is not there."""
        return summary.inference_data(self)

    def thinned(self, n):
        """The same fit with at most `n` of its draws, taken evenly: for answers that need speed."""
        if n >= self.n_draws:
            return self
        if n not in self._thinned:
            take = np.linspace(0, self.n_draws - 1, n).round().astype(int)
            few = copy(self)
            few.theta, few.n_draws, few._thinned, few._whole = self.theta[take], n, {}, self
            few.break_scale, few.break_shape = self.break_scale[take], self.break_shape[take]
            beside = self.drawn.beside
            few.drawn = replace(self.drawn, theta=few.theta, beside=beside[take] if len(beside) > 1 else beside)
            few._predict = self._predict.thinned(take)
            self._thinned[n] = few
        return self._thinned[n]

    @property
    def pooled(self):
        """Whether priors were used."""
        return self.layout.pooled

    @property
    def log_likelihood(self):
        """At the maximum, on the time scale (contact minutes); with priors, the log marginal density at the mode."""
        return self.mode.merit if self.pooled else self.mode.at.merit

    @property
    def n_cuts(self):
        """Cuts fitted."""
        return len(self.data)

    @property
    def n_bands(self):
        """Bands fitted."""
        return len(self.rows.bands)

    @property
    def n_failed(self):
        """Bands that wear ended."""
        return int(self.rows.worn.sum())

    @property
    def n_broken(self):
        """Bands that broke, weld or body."""
        return int(self.bands["end"].isin(BREAK_ENDS).sum())

    @property
    def n_censored(self):
        """Bands that wear had not ended when last seen."""
        return self.n_bands - self.n_failed

    @property
    def signals(self):
        """Names of the sharpness signals fitted."""
        return [s.name for s in self.rows.signals]

    @property
    def weibull_shape(self):
        """Weibull shape of the ends in wear used [-], draws (n_draws,)."""
        log_shape = self.theta[:, self.layout.shape]
        return WEAR_END.shape(log_shape)[0] if self.pooled else np.exp(log_shape)

    @property
    def band_scatter(self):
        """sd of a band's own log wear rate (n_draws,); 0 without priors."""
        at = self.layout.band_scatter
        return np.zeros(self.n_draws) if at is None else np.exp(self.theta[:, at])

    def log_tau(self, band_speed, chip_load, work_thickness, *, coolant="flood", beyond=True, missed=True, **where):
        """log of a typical band's wear life in contact minutes (n_draws, k) at settings (k,), with allowances for
        batches of bands and, unless `beyond` is False, for settings beyond those tried, and unless `missed` is False,
        for what the law misses (Predictor). where : names of material, machine and stock."""
        at = band_speed, chip_load, work_thickness
        return self._predict.log_tau(*at, Where(**where), coolant, beyond, missed)

    def beyond(self, band_speed, chip_load, work_thickness, material, stock, coolant="flood"):
        """Loss of log life beyond the settings tried (n_draws, k, ...): speeds (k,), chip loads (n_draws, k, ...)."""
        V = np.asarray(band_speed, float)
        star = self._predict.star(np.full(len(V), work_thickness), material, self._predict.edge_of[stock], coolant)
        shape = (-1, *(1,) * (np.ndim(chip_load) - 2))
        return self._predict.beyond(V.reshape(shape), chip_load, star.reshape(shape), material)

    def signal(self, name, band_speed, chip_load, work_thickness, *, wear_used=0.0, **where):
        """Median of the signal `name` (n_draws, k) in its column's unit, at settings (k,) and wear used (k,).
        where : names of material, machine and stock."""
        return self._predict.signal(name, band_speed, chip_load, work_thickness, Where(**where), wear_used)

    def reading_scatter(self, name):
        """Of the log of the signal `name`: scale of its noise (n_draws,), sd of the bands' own levels (n_draws,), and
        the weight of a reading among those of its band, below 1 where they stray together."""
        i = self.signals.index(name)
        block, signal = self.layout.blocks[i], self.rows.signals[i]
        return signal.scale(np.exp(self.theta[:, block.noise])), np.exp(self.theta[:, block.band]), signal.weight

    def chip_load_at_force(self, feed_force, band_speed, work_thickness, material, machine, stock, wear_used=0.0):
        """Chip load [um] (n_draws, k) that a feed force [N] gives; needs cuts logged at a set feed force."""
        if "chip_load" not in self.signals:
            raise FitError(
                "No cut was logged at a set feed force with its time, so the chip load that a force "
                "gives is not known. Log at least three timed cuts at a set feed force."
            )
        where = Where(material, machine, stock)
        return self._predict.signal("chip_load", band_speed, 10.0, work_thickness, where, wear_used, feed_force)

    @property
    def band_rate_draws(self):
        """Each band's own log wear-rate factor (n_draws, n_bands)."""
        return summary.band_rate_draws(self)

    @property
    def wear_used_draws(self):
        """Wear used by each band at the end of its log (n_draws, n_bands)."""
        return summary.wear_used_draws(self)

    def wear_used(self, level=0.8):
        """Table band, low, median, high of the wear used."""
        return summary.wear_used(self, level)

    @property
    def residuals(self):
        """Table cut, band, signal, wear_used, observed, predicted, z of every signal reading."""
        return summary.residuals(self)

    @cached_property
    def trust(self):
        """How far the draws and the model can be trusted: wear.trust.Trust."""
        from .trust import trust

        return trust(self)

    @property
    def diagnostics(self):
        """What the draws say of themselves, by name; see `summary.diagnostics`."""
        return summary.diagnostics(self)

    def to_json(self):
        """The answer of `bandtrial fit --json`."""
        return summary.to_json(self)

    def __repr__(self):
        return (
            f"<Fit of {self.n_cuts} cuts on {self.n_bands} bands ({self.n_failed} ended by wear), "
            f"{self.n_draws} draws, {self.trust.grade}>"
        )

    def __str__(self):
        from .text import text

        return text(self)

    def _repr_html_(self):
        from .text import html

        return html(self)
