"""How far a fit can be trusted: what the sampler left, and what the log itself contradicts, in plain sentences."""

from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd

from ..inference import pareto_smooth
from .bands import band_integrals
from .density import Density
from .signals import BY_NAME, in_words, of_signal
from .summary import T_SD, band_rate_draws, wear_used_draws
from .terms import NU

STRAYS = 0.55  # weight of a reading below which it is said that those of a band stray together
FAR = 3.0  # prior sd from its prior, beyond which a parameter is said to be far out
LEAST_TOLD = 4.0  # information of a signal on a band's log wear rate, below which its word is none (its sd is a half)
APART = 4.0  # standard errors between two signals' words on one band, beyond which they are said to disagree
WIDER = 1.25  # by how much intervals are widened where the draws are rough


@dataclass(frozen=True)
class Trust:
    """grade: "good", "rough" or "unusable"; usable: whether the draws can carry an answer; reasons: what is wrong with
    the draws and what would help; contradictions: what of the log the model does not follow; widen: factor of every
    interval on the log scale."""

    grade: str
    reasons: tuple[str, ...]
    contradictions: tuple[str, ...]
    widen: float = 1.0

    @property
    def usable(self) -> bool:
        """Whether the draws can carry an answer."""
        return self.grade != "unusable"


def trust(fit: Any) -> Trust:
    """`Trust` of a fit."""
    if not fit.pooled:
        reasons = () if fit.mode.converged else ("The fit did not settle on a best point: read every figure as rough.",)
        return Trust("rough" if reasons else "good", reasons, ())
    against, drawn = contradictions(fit), fit.drawn
    if not (drawn.usable and np.isfinite(fit.theta).all()):
        return Trust(
            "unusable",
            (
                f"The draws did not settle ({drawn.effective:.0f} effective of {fit.n_draws}), so they carry no "
                "answer. Look for a cut that contradicts the others (bandtrial check, the residuals of bandtrial "
                "report), mark it in the column exclude, and fit again.",
            ),
            against,
        )
    reasons = ()
    if not drawn.good:
        reasons = (
            f"The draws are few ({drawn.effective:.0f} effective of {fit.n_draws}): intervals are widened by a "
            "quarter. Another fit with more draws, or without the cuts named below, would narrow them.",
        )
    return Trust("rough" if reasons or against else "good", reasons, against, WIDER if reasons else 1.0)


def contradictions(fit: Any) -> tuple[str, ...]:
    """Plain sentences on what the log holds against the model."""
    said = [
        f"The readings of {s.name} on one band stray together, more than noise does: each counts for "
        f"{s.weight:.2f} of a reading that stands alone. Something drifts that the log does not hold (coolant, "
        "tension, the sensor), or the band dulls in another way than the model's."
        for s in fit.rows.signals
        if s.weight < STRAYS
    ]
    said += disagreements(fit)
    theta = fit.theta
    off = (np.median(theta, axis=0) - fit.layout.mean) / fit.layout.sd
    grouped = set(fit.layout.pooled_at)
    levels = {i for block in fit.layout.blocks for i in range(block.beta.start, block.beta.stop)}
    for i in np.flatnonzero(np.abs(off) > FAR):
        if i in grouped or i in levels:
            continue
        signal, what = of_signal(fit.layout.names[i])
        which = f"Of the {signal}, the {what}" if signal else f"The {what}"
        said.append(
            f"{which} comes out far {'greater' if off[i] > 0 else 'smaller'} than was expected: the log may hold a "
            "slip, or this shop is unlike others. Read what hangs on it as rough."
        )
    return tuple(said)


def disagreements(fit: Any) -> list[str]:
    """Plain sentences on bands of which two signals tell different wear.

    Each one's own word, at the top, on by how much the band wears faster than others: w + score_s / D_s, variance
    1 / D_s."""
    top = fit.mode
    said: list[str] = []
    if len(fit.rows.signals) < 2 or fit.drawn.method == "normal":
        return said
    c = top.curvature
    told = [ww - wg**2 / gg for ww, wg, gg in zip(c.data_ww, c.wg, c.gg, strict=True)]
    names = [in_words(s.name) for s in fit.rows.signals]
    for i, j in combinations(range(len(told)), 2):
        both = (told[i] > LEAST_TOLD) & (told[j] > LEAST_TOLD)
        first, second = (top.pull_w[k][both] / told[k][both] for k in (i, j))
        apart = (first - second) / np.sqrt(1 / told[i][both] + 1 / told[j][both])
        for band, off in zip(np.flatnonzero(both), apart, strict=True):
            if abs(off) > APART:
                faster, slower = (names[i], names[j]) if off > 0 else (names[j], names[i])
                said.append(
                    f"Band {fit.rows.bands[band]}: its {faster} says that it is more worn than its {slower} does "
                    f"({abs(off):.1f} standard errors apart). One of the two is moved by something else than wear: "
                    "look at its sensor, its unit, and what changed during the band's life."
                )
    return said


RARE = 0.01  # a chance below which a band is named
ODD = 0.05  # readings as far off that a log would have by chance, below which one is named
REPLICATES = 400
GH_NODES = 15
MOST_BANDS = 1000  # bands checked, evenly over the log: of more, these say as much
MOST_SAID = 20  # bands named one by one


def checked(fit: Any) -> np.ndarray:
    """Numbers of the bands that are checked, in order: all, or MOST_BANDS evenly over a long log."""
    m = fit.n_bands
    return np.arange(m) if m <= MOST_BANDS else np.linspace(0, m - 1, MOST_BANDS).astype(int)


def signal_checks(fit: Any) -> pd.DataFrame:
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


def odd_readings(fit: Any) -> pd.DataFrame:
    """The residuals whose size the fitted t noise gives to less than ODD readings of as many, with that number as
    `chance`."""
    from scipy.special import stdtr

    table: pd.DataFrame = fit.residuals
    chance = 2 * len(table) * stdtr(NU, -np.abs(table["z"].to_numpy(float)) * T_SD)
    odd: pd.DataFrame = table.assign(chance=chance)[chance < ODD]
    return odd


def _statistics(z: np.ndarray, E: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """|slope of z against E| in sd of itself, rms of z, slope; z (..., n)."""
    x = E - E.mean()
    scale = np.sqrt(np.sum(x * x)) or 1.0
    slope = np.sum(z * x, axis=-1) / scale
    return np.abs(slope), np.sqrt(np.mean(z * z, axis=-1)), slope


def left_out_bands(fit: Any, most: int = 500) -> pd.DataFrame:
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


def band_scores(fit: Any, bands: np.ndarray | None = None) -> np.ndarray:
    """Log density of each band's readings and end, its own effects integrated out (n_draws, bands); of all bands, or
    of those with the numbers given."""
    density, beside = fit.density, np.broadcast_to(fit.drawn.beside, (fit.n_draws, *fit.drawn.beside.shape[1:]))
    if bands is not None and len(bands) < fit.n_bands:
        density, beside = Density(fit.rows.of_bands(bands), fit.layout), beside[:, bands]
    size = max(1, 60_000 // len(density.rows.contact))
    parts = []
    for i in range(0, fit.n_draws, size):
        w, *g = beside[i : i + size].transpose(2, 1, 0)
        parts.append(band_integrals(density, fit.theta[i : i + size].T, w, g).T)
    return np.concatenate(parts)


def _ended_by(fit: Any, bands: np.ndarray) -> np.ndarray:
    """Chance that a band unknown but for its cuts has ended by wear at their end (n_draws, bands)."""
    x, weight = np.polynomial.hermite_e.hermegauss(GH_NODES)
    log_T = np.log(np.maximum(wear_used_draws(fit, bands), 1e-300)) - band_rate_draws(fit, bands)
    w = fit.band_scatter[:, None, None] * x
    E = np.exp(np.minimum(fit.weibull_shape[:, None, None] * (log_T[:, :, None] + w), 50.0))
    return np.asarray(-np.expm1(-E) @ (weight / weight.sum()))


def warnings(fit: Any) -> list[str]:
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


def _first(odd: pd.DataFrame, chance: Any) -> Any:
    """The rows to name: all, or of many those least likely."""
    return odd if len(odd) <= MOST_SAID else odd.loc[chance.sort_values(kind="stable").index[:MOST_SAID]].sort_index()


def _as_logged(signal: str, value: float) -> str:
    kind = BY_NAME[signal]
    return f"{1 / value if kind.inverse else value:.3g} {kind.unit}"


def _many(odd: pd.DataFrame, n: int, what: str, expected: float | None = None) -> list[str]:
    """What is said before the first of many; expected: how many chance alone would name, RARE of n if not given."""
    if len(odd) <= MOST_SAID:
        return []
    chance = f"about {RARE * n if expected is None else expected:,.0f} would by chance alone"
    return [f"{len(odd):,} of {n:,} checked: {what}; {chance}. The {MOST_SAID} least likely:"]
