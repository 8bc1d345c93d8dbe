"""A fitted study: its parameters, their draws, and what they say at settings that may not have been tried."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from ..inference import Mode
from ..sawing import BROKEN
from ..study.model import Study
from . import predict, summary, top
from .density import Density
from .ends import break_draws
from .layout import Layout, prior
from .posterior import Draws
from .predict import Predictor, Where
from .rows import Rows
from .terms import WEAR_END
from .trust import Trust


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


class Fit:
    """A fitted study. Draws have axis 0; settings given as arrays are broadcast and run along axis 1.

    parameters: table of what was estimated; theta: draws on the working scale (n_draws, d);
    data: the cuts used; excluded: those left out, with the reason.
    cycles, broken: see Welds.
    """

    _whole: Fit | None = None
    """The fit that this one has some of the draws of."""

    def __init__(
        self, study: Study, cuts: pd.DataFrame, table: pd.DataFrame, bands: pd.DataFrame, welds: Welds, fitted: Fitted,
        seed: int,
    ) -> None:  # fmt: skip
        self.study, self.data, self.bands, self.seed = study, table, bands, seed
        self.rows, self.layout, self.density = fitted.rows, fitted.layout, fitted.density
        self.mode = fitted.mode
        self.drawn, self.theta = fitted.drawn, fitted.drawn.theta
        self.n_draws, self._thinned = len(self.theta), dict[int, Fit]()
        self.cycles, self.broken = welds
        self._cuts = cuts
        rng = np.random.default_rng([seed, 2])
        priors = prior("break_cycles", positive=True), prior("break_shape", positive=True)
        self.break_scale, self.break_shape = break_draws(self.cycles, self.broken, *priors, self.n_draws, rng)
        self._predict = Predictor(self.rows, self.layout, self.theta, study, seed)

    @cached_property
    def parameters(self) -> pd.DataFrame:
        """Table of what was estimated, prior beside posterior; of all draws where this fit has some of them."""
        return self._whole.parameters if self._whole else summary.parameters(self)

    @cached_property
    def excluded(self) -> pd.DataFrame:
        """Table of the cuts left out, with the reason."""
        return summary.left_out(self._cuts, self.data)

    @cached_property
    def draws(self) -> pd.DataFrame:
        """Table of the draws, a column a parameter on the scale that people use: a row for each draw."""
        return summary.draws(self)

    def predict(self, settings: pd.DataFrame) -> pd.DataFrame:
        """What a table of settings gives: `settings` with the columns band_speed [m/min], chip_load [um],
        work_thickness [mm], material, machine, stock, and coolant (flood if not there).

        Returns a table with its index: life_low, life, life_high: contact minutes that a typical band lasts (80 %
        interval and median); and for each signal logged on that machine's kind of feed NAME_low, NAME, NAME_high at
        the wear_used of the row (0 if not there), in the unit of its column. Raises KeyError for a column or a name
        that the study has not.
        """
        return predict.predicted(self, settings)

    def to_inference_data(self) -> Any:
        """The draws as an ArviZ InferenceData (pip install 'bandtrial[arviz]'): posterior by parameter, and the band
        effects by band; ImportError, in words, where ArviZ is not there."""
        return summary.inference_data(self)

    def thinned(self, n: int) -> Fit:
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
    def pooled(self) -> bool:
        """Whether priors were used."""
        return self.layout.pooled

    @property
    def log_likelihood(self) -> float:
        """At the maximum, on the time scale (contact minutes); with priors, the log marginal density at the mode."""
        return self.mode.merit

    @property
    def n_cuts(self) -> int:
        """Cuts fitted."""
        return len(self.data)

    @property
    def n_bands(self) -> int:
        """Bands fitted."""
        return len(self.rows.bands)

    @property
    def n_failed(self) -> int:
        """Bands that wear ended."""
        return int(self.rows.worn.sum())

    @property
    def n_broken(self) -> int:
        """Bands that broke, weld or body."""
        return int(self.bands["end"].isin(BROKEN).sum())

    @property
    def n_censored(self) -> int:
        """Bands that wear had not ended when last seen."""
        return self.n_bands - self.n_failed

    @property
    def signals(self) -> list[str]:
        """Names of the sharpness signals fitted."""
        return [s.name for s in self.rows.signals]

    @property
    def weibull_shape(self) -> np.ndarray:
        """Weibull shape of the ends in wear used [-], draws (n_draws,)."""
        log_shape = self.theta[:, self.layout.shape]
        return np.asarray(WEAR_END.shape(log_shape)[0] if self.pooled else np.exp(log_shape))

    @property
    def band_scatter(self) -> np.ndarray:
        """sd of a band's own log wear rate (n_draws,); 0 without priors."""
        at = self.layout.band_scatter
        return np.zeros(self.n_draws) if at is None else np.exp(self.theta[:, at])

    def log_tau(
        self, band_speed: Any, chip_load: Any, work_thickness: Any, *, coolant: str = "flood", beyond: bool = True,
        missed: bool = True, **where: str,
    ) -> np.ndarray:  # fmt: skip
        """log of a typical band's wear life in contact minutes (n_draws, k) at settings (k,), with allowances for
        batches of bands and, unless `beyond` is False, for settings beyond those tried, and unless `missed` is False,
        for what the law misses (Predictor). where : names of material, machine and stock."""
        at = band_speed, chip_load, work_thickness
        return self._predict.log_tau(*at, Where(**where), coolant, beyond, missed)

    def beyond(
        self, band_speed: Any, chip_load: Any, work_thickness: Any, material: str, stock: str, coolant: str = "flood"
    ) -> np.ndarray:
        """Loss of log life beyond the settings tried (n_draws, k, ...): speeds (k,), chip loads (n_draws, k, ...)."""
        V = np.asarray(band_speed, float)
        star = self._predict.star(np.full(len(V), work_thickness), material, self._predict.edge_of[stock], coolant)
        shape = (-1, *(1,) * (np.ndim(chip_load) - 2))
        return self._predict.beyond(V.reshape(shape), chip_load, star.reshape(shape), material)

    def signal(
        self, name: str, band_speed: Any, chip_load: Any, work_thickness: Any, *, wear_used: Any = 0.0, **where: str
    ) -> np.ndarray:
        """Median of the signal `name` (n_draws, k) in its column's unit, at settings (k,) and wear used (k,).
        where : names of material, machine and stock."""
        return self._predict.signal(name, band_speed, chip_load, work_thickness, Where(**where), wear_used)

    def reading_scatter(self, name: str) -> tuple[np.ndarray, np.ndarray, float]:
        """Of the log of the signal `name`: scale of its noise (n_draws,), sd of the bands' own levels (n_draws,), and
        the weight of a reading among those of its band, below 1 where they stray together."""
        i = self.signals.index(name)
        block, signal = self.layout.blocks[i], self.rows.signals[i]
        return signal.scale(np.exp(self.theta[:, block.noise])), np.exp(self.theta[:, block.band]), signal.weight

    def chip_load_at_force(
        self, feed_force: Any, band_speed: Any, work_thickness: Any, material: str, machine: str, stock: str,
        wear_used: Any = 0.0,
    ) -> np.ndarray:  # fmt: skip
        """Chip load [um] (n_draws, k) that a feed force [N] gives; needs cuts logged at a set feed force."""
        if "chip_load" not in self.signals:
            raise FitError(
                "No cut was logged at a set feed force with its time, so the chip load that a force "
                "gives is not known. Log at least three timed cuts at a set feed force."
            )
        where = Where(material, machine, stock)
        return self._predict.signal("chip_load", band_speed, 10.0, work_thickness, where, wear_used, feed_force)

    @property
    def band_rate_draws(self) -> np.ndarray:
        """Each band's own log wear-rate factor (n_draws, n_bands)."""
        return summary.band_rate_draws(self)

    @property
    def wear_used_draws(self) -> np.ndarray:
        """Wear used by each band at the end of its log (n_draws, n_bands)."""
        return summary.wear_used_draws(self)

    def wear_used(self, level: float = 0.8) -> pd.DataFrame:
        """Table band, low, median, high of the wear used."""
        return summary.wear_used(self, level)

    @property
    def residuals(self) -> pd.DataFrame:
        """Table cut, band, signal, wear_used, observed, predicted, z of every signal reading."""
        return summary.residuals(self)

    @cached_property
    def trust(self) -> Trust:
        """How far the draws and the model can be trusted: wear.trust.Trust."""
        from .trust import trust

        return trust(self)

    @property
    def diagnostics(self) -> dict[str, Any]:
        """What the draws say of themselves, by name; see `summary.diagnostics`."""
        return summary.diagnostics(self)

    def to_json(self) -> dict[str, Any]:
        """The answer of `bandtrial fit --json`."""
        return summary.to_json(self)

    def __repr__(self) -> str:
        return (
            f"<Fit of {self.n_cuts} cuts on {self.n_bands} bands ({self.n_failed} ended by wear), "
            f"{self.n_draws} draws, {self.trust.grade}>"
        )

    def __str__(self) -> str:
        from .text import text

        return text(self)

    def _repr_html_(self) -> str:
        from .text import html

        return html(self)
