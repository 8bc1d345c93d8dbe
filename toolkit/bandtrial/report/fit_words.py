"""The fit for a reader: parameters beside their priors, sources, how it was computed, how well it fits."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial.plots.evidence import Learnt
from bandtrial.published.tables import source_titles
from bandtrial.report import words
from bandtrial.wear import signals
from bandtrial.wear.terms import LEVEL, NU

if TYPE_CHECKING:
    from bandtrial.wear.fit import Fit


_CHIP = re.compile(r"\b([\d.]+) um\b")
METHODS = {
    "hamiltonian": "Hamiltonian moves of many chains in pairs",
    "normal": "normal law about the maximum (too many cuts for more)",
}


def plain(name: str, system: str = "metric") -> str:
    """A parameter's name in words and what explains it, a chip load in it in the unit of the system.

    >>> plain("chip_load_bend[18 um]", "us")
    'loss of life beside, chips over 0.000709 in'
    """
    return _in_units(signals.plain(name), system)


def short(name: str, system: str = "metric") -> str:
    """The same without what explains it."""
    return _in_units(signals.short(name), system)


def _in_units(text: str, system: str) -> str:
    return _CHIP.sub(lambda found: words.quantity(float(found[1]), "chip_load", system), text)


def parameters(fit: Fit, system: str, of_signals: bool) -> words.Table:
    """Parameters of the signals, or of band life: after the trial, before it, whether the data moved them."""
    heads = ["parameter", "after the trial", "before it", "unit", "the data moved it", "source of the prior"]
    rows = []
    for name, row in fit.parameters.iterrows():
        if ("." in str(name)) != of_signals:
            continue
        known = math.isfinite(row["estimate"])
        after = words.between(row["estimate"], row["low"], row["high"]) if known else "–"
        texts = (plain_numbers(row["prior"]), row["unit"], "yes" if row["moved"] else "no", row["source"])
        rows.append([plain(str(name), system), after, *(text or "–" for text in texts)])
    return heads, rows


def plain_numbers(text: str) -> str:
    """A text with its numbers written without exponents.

    >>> plain_numbers("1e+05 (1.66e+04 to 6.01e+05)")
    '100,000 (16,600 to 601,000)'
    """
    return re.sub(r"-?\d\S*e[+-]?\d+", lambda found: f"{float(found[0]):,.0f}", text).replace("-", "−")


def sources(fit: Fit) -> words.Table:
    """The sources the priors name, in full."""
    named = {part.strip() for text in fit.parameters["source"] for part in str(text).split(";")}
    known = source_titles()
    rows = [[name, known[name]] for name in sorted(named) if name in known]
    return ["source", "what it is"], rows


def prior_words(fit: Fit, system: str) -> list[str]:
    """What the data did to the priors, in sentences."""
    table = fit.parameters[fit.parameters["estimate"].notna()]
    still = [short(str(name), system) for name in table.index[~table["moved"].astype(bool)]]
    lines = [
        f"Of {words.count(len(table), 'parameter')}, the data moved {len(table) - len(still)}. A "
        "parameter that did not move rests on its prior range: what the report says of it was believed "
        "before the trial."
    ]
    if still:
        lines.append(f"Not moved: {words.listed(still)}.")
    return lines


MOST_LEARNT = 16  # parameters in the picture


def prior_rows(fit: Fit, system: str) -> list[Learnt]:
    """Rows of the picture of priors and posteriors: the life model's parameters, then what room there is."""
    if not getattr(fit, "pooled", True):
        return []
    rows = []
    for p in fit.layout.priors:
        row: Any = fit.parameters.loc[p.name]
        low, _, high = p.interval(LEVEL)
        if math.isfinite(row["estimate"]) and "." not in p.name:
            by_data = row["low"], row["estimate"], row["high"], bool(row["moved"])
            rows.append(Learnt(short(p.name, system), low, high, *by_data))
    return rows[:MOST_LEARNT]


def diagnostics(fit: Fit) -> words.Table:
    """How the draws were found and whether that can be trusted."""
    d = dict(fit.diagnostics)
    d["method"] = METHODS.get(str(d.get("method")), d.get("method"))
    names = {"method": "method", "converged": "the search ended at a maximum", "draws": "draws kept",
             "drift": "drift between the halves of the draws, in standard errors", "effective_draws": "effective draws",
             "seed": "seed of the random numbers"}  # fmt: skip
    rows = [[label, _value(d[key])] for key, label in names.items() if key in d and d[key] == d[key]]
    return ["what", "value"], rows


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:,.2f}" if abs(value) < 10 else f"{value:,.0f}" if math.isfinite(value) else "not computed"
    return str(value)


def residuals(fit: Fit) -> words.Table:
    """Readings against the fit: how many lie where the fit expects them."""
    from scipy.special import stdtrit

    heads = ["signal", "readings", "within the 50 % band", "within the 90 % band", "median of observed / fit"]
    table, rows = fit.residuals, []
    for signal in fit.signals:
        part = table[table["signal"] == signal]
        z = part["z"].to_numpy(float) * np.sqrt(NU / (NU - 2))
        inside = [f"{np.mean(np.abs(z) <= stdtrit(NU, 0.5 + p / 2)):.0%}" for p in (0.5, 0.9)]
        ratio = float(np.median(part["observed"] / part["predicted"]))
        rows.append([signals.in_words(signal), f"{len(part):,}", *inside, f"{ratio:.3f}"])
    return heads, rows


def check_words(fit: Fit) -> list[str]:
    """The counts behind the fit and what the checks say, in sentences."""
    d = fit.diagnostics
    lines = [
        f"{words.count(fit.n_cuts, 'cut')} on {words.count(fit.n_bands, 'band')}: {fit.n_failed} worn out, "
        f"{d.get('broken', 0)} broken, {fit.n_censored} without a worn end (sound, taken off or broken), "
        "which count as lives at least that long."
    ]
    if not fit.signals:
        lines.append("No sharpness signal was logged: wear is known from the ends of bands alone.")
    lines += [str(text) for text in d.get("warnings", ())]
    return lines
