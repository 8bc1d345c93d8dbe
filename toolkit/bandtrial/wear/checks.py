"""Does the model fit this shop? Readings and ends of each band against what the fit expects of them.

Two questions a band: do its signals scatter about the fitted curve as the noise should (posterior predictive),
and would the fit of all other bands have foreseen its life (leave-one-band-out, by Pareto-smoothed weights;
Vehtari, Gelman, Gabry, Statistics and Computing 27 (2017), 1413-1432)?
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..inference import pareto_smooth
from .density import Density
from .signals import BY_NAME
from .summary import T_SD, band_rate_draws, wear_used_draws
from .terms import NU

RARE = 0.01  # a chance below which a band is named
ODD = 0.05  # readings as far off that a log would have by chance, below which one is named
REPLICATES = 400
GH_NODES = 15
MOST_BANDS = 1000  # bands checked, evenly over the log: of more, these say as much
MOST_SAID = 20  # bands named one by one


def checked(fit):
    """Numbers of the bands that are checked, in order: all, or MOST_BANDS evenly over a long log."""
    m = fit.n_bands
    return np.arange(m) if m <= MOST_BANDS else np.linspace(0, m - 1, MOST_BANDS).astype(int)


def signal_checks(fit):
    """One row a checked band and signal: n, drift (slope of z on wear used, in its own sd), spread (rms z), worst cut,
    chance, misses.

    chance: how often readings of the fitted noise alone would drift or scatter at least as much, by
    simulation with the fit's seed; misses: chance below RARE.
    """
    rng = np.random.default_rng([fit.seed, 3])
    noise = rng.standard_t(NU, (REPLICATES, 4000)) / np.sqrt(NU / (NU - 2))
    records = []
    table, some = fit.residuals, checked(fit)
    if len(some) < fit.n_bands:
        table = table[table["band"].isin([fit.rows.bands[b] for b in some])]
    for (band, signal), part in table.groupby(["band", "signal"], sort=False, observed=True):
        z, E = part["z"].to_numpy(), part["wear_used"].to_numpy()
        if len(z) < 3 or len(z) > noise.shape[1]:
            continue
        seen, usual = _statistics(z, E), _statistics(noise[:, : len(z)], E)
        chance = min(1.0, 2 * min((usual[i] >= seen[i]).mean() + 1 / REPLICATES for i in (0, 1)))
        worst = part["cut"].iloc[int(np.argmax(np.abs(z)))]
        records.append((band, signal, len(z), float(seen[2]), float(seen[1]), worst, chance, chance < RARE))
    return pd.DataFrame(records, columns=["band", "signal", "n", "drift", "spread", "worst", "chance", "misses"])


def odd_readings(fit):
    """The residuals whose size the fitted t noise gives to less than ODD readings of as many, with that number as
    `chance`."""
    from scipy.special import stdtr

    table = fit.residuals
    chance = 2 * len(table) * stdtr(NU, -np.abs(table["z"].to_numpy(float)) * T_SD)
    return table.assign(chance=chance)[chance < ODD]


def _statistics(z, E):
    """|slope of z against E| in sd of itself, rms of z, slope; z (..., n)."""
    x = E - E.mean()
    scale = np.sqrt(np.sum(x * x)) or 1.0
    slope = np.sum(z * x, axis=-1) / scale
    return np.abs(slope), np.sqrt(np.mean(z * z, axis=-1)), slope


def left_out_bands(fit, most=500):
    """One row a checked band: what the other bands' fit foretold. end, foretold, expected_score, pareto_k, misses.

    foretold: chance, by the fit without this band, that a band has ended by wear at the contact minutes this
    one had; even between 0 and 1 for bands that did end, and no surprise unless near 1 for bands that did not.
    expected_score: log density of the band's readings and end under that fit. pareto_k above 0.7: the band
    matters too much for its absence to be worked out this way.
    """
    some = checked(fit)
    cuts = len(fit.rows.contact) * len(some) / fit.n_bands
    few = fit.thinned(int(np.clip(20_000_000 // max(cuts, 1), 20, most)))
    score = band_scores(few, some)
    ended = _ended_by(few, some)
    records = []
    for i, b in enumerate(some):
        band = fit.rows.bands[b]
        log_w, k_hat, _ = pareto_smooth(-score[:, i])
        w = np.exp(log_w)
        foretold = float(w @ ended[:, i])
        worn = bool(fit.rows.worn[b])
        misses = foretold > 1 - RARE or (worn and foretold < RARE)
        top = score[:, i].max()
        expected = float(np.log(w @ np.exp(score[:, i] - top)) + top)
        records.append((band, fit.bands["end"].iloc[b], foretold, expected, k_hat, misses))
    return pd.DataFrame(records, columns=["band", "end", "foretold", "expected_score", "pareto_k", "misses"])


def band_scores(fit, bands=None):
    """Log density of each band's readings and end, its own effects integrated out (n_draws, bands); of all bands, or
    of those with the numbers given."""
    density, beside = fit.density, np.broadcast_to(fit.drawn.beside, (fit.n_draws, *fit.drawn.beside.shape[1:]))
    if bands is not None and len(bands) < fit.n_bands:
        density, beside = Density(fit.rows.of_bands(bands), fit.layout), beside[:, bands]
    size = max(1, 60_000 // len(density.rows.contact))
    parts = []
    for i in range(0, fit.n_draws, size):
        w, *g = beside[i : i + size].transpose(2, 1, 0)
        parts.append(density.band_integrals(fit.theta[i : i + size].T, w, g).T)
    return np.concatenate(parts)


def _ended_by(fit, bands):
    """Chance that a band unknown but for its cuts has ended by wear at their end (n_draws, bands)."""
    x, weight = np.polynomial.hermite_e.hermegauss(GH_NODES)
    log_T = np.log(np.maximum(wear_used_draws(fit, bands), 1e-300)) - band_rate_draws(fit, bands)
    w = fit.band_scatter[:, None, None] * x
    E = np.exp(np.minimum(fit.weibull_shape[:, None, None] * (log_T[:, :, None] + w), 50.0))
    return -np.expm1(-E) @ (weight / weight.sum())


def warnings(fit):
    """Plain sentences on what the model misses and how far the answer can be trusted; empty when all is well."""
    said = list(fit.trust.reasons)
    said += fit.trust.contradictions
    if not fit.pooled:
        return said
    cuts = odd_readings(fit)
    said += _many(cuts, len(fit.residuals), "readings far from what is expected", ODD)
    for row in _first(cuts, cuts["chance"]).itertuples():
        read, expected = _as_logged(row.signal, row.observed), _as_logged(row.signal, row.predicted)
        said.append(
            f"Cut {row.cut} on band {row.band}: its {row.signal} is {read} where {expected} is expected "
            f"(chance {row.chance:.1g} among all readings). Look at that cut's entry, setting, bar and sensor."
        )
    signals = signal_checks(fit)
    odd = signals[signals["misses"].astype(bool) & ~signals["worst"].isin(cuts["cut"])]
    said += _many(odd, len(signals), "readings of a band do not follow the fitted wear curve")
    for row in _first(odd, odd["chance"]).itertuples():
        said.append(
            f"Band {row.band}: its {row.signal} does not follow the fitted wear curve (chance "
            f"{row.chance:.3f}), worst at cut {row.worst}. Look at that cut's entry, setting, bar and sensor."
        )
    ends = left_out_bands(fit)
    odd = ends[ends["misses"].astype(bool)]
    said += _many(odd, len(ends), "bands lasted far longer or ended far sooner than the others foretold")
    for row in _first(odd, np.minimum(odd["foretold"], 1 - odd["foretold"])).itertuples():
        how = "lasted far longer" if row.foretold > 0.5 else "ended far sooner"
        said.append(
            f"Band {row.band} {how} than the other bands foretold (chance {row.foretold:.3f} that it "
            "would have ended by then)."
        )
    return said


def _first(odd, chance):
    """The rows to name: all, or of many those least likely."""
    return odd if len(odd) <= MOST_SAID else odd.loc[chance.sort_values(kind="stable").index[:MOST_SAID]].sort_index()


def _as_logged(signal, value):
    kind = BY_NAME[signal]
    return f"{1 / value if kind.inverse else value:.3g} {kind.unit}"


def _many(odd, n, what, expected=None):
    """What is said before the first of many; expected: how many chance alone would name, RARE of n if not given."""
    if len(odd) <= MOST_SAID:
        return []
    chance = f"about {RARE * n if expected is None else expected:,.0f} would by chance alone"
    return [f"{len(odd):,} of {n:,} checked: {what}; {chance}. The {MOST_SAID} least likely:"]
