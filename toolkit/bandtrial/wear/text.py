"""A fit as words, text and HTML, both from one list of fields: status first, then what the data moved."""

import math
from html import escape
from typing import Any

from bandtrial import words

from .signals import LIFE, plain
from .summary import told
from .terms import LEVEL
from .trust import warnings

UNDONE = {"log_scale": "wear life at the published start [min]"}
FACTORS = ("material[", "machine[", "stock[", "coolant[")


def digits(value: float, error: float) -> str:
    """Value with the digits its error supports: two figures of the error.

    >>> digits(0.19534, 0.0257)
    '0.195'
    >>> digits(71275.5, 9441.0)
    '71300'
    """
    if not math.isfinite(value):
        return "not known"
    if not (math.isfinite(error) and error > 0):
        return f"{value:.4g}"
    place = 1 - math.floor(math.log10(error))
    rounded = round(value, place)
    return f"{rounded:.{max(place, 0)}f}"


def status(fit: Any) -> str:
    """One line: can these figures be used, and how were they found."""
    if not fit.pooled:
        return "Plain maximum likelihood, no priors" + ("" if fit.mode.converged else ": did not settle")
    how = (
        "the normal law about the best point, the log being long"
        if fit.drawn.method == "normal"
        else f"{fit.drawn.moves} moves of each chain, {fit.drawn.effective:.0f} effective at least"
    )
    grade = "With doubts" if fit.trust.grade == "good" and warnings(fit) else fit.trust.grade.capitalize()
    return f"{grade}: {fit.n_draws} posterior draws by {how}"


def used(fit: Any) -> str:
    """What was fitted and what was left out."""
    ends = f"{fit.n_failed} ended by wear, {fit.n_broken} broke, {fit.n_censored - fit.n_broken} still sound"
    out = f"{words.count(len(fit.excluded), 'cut')} left out or excluded" if len(fit.excluded) else "no cut left out"
    return f"{words.count(fit.n_cuts, 'cut')} on {words.count(fit.n_bands, 'band')} ({ends}); {out}"


def rows(fit: Any, everything: bool = False) -> list[tuple[str, ...]]:
    """(name in words, estimate, interval, prior, moved) of the parameters worth reading, or of all.

    With priors, the wear life and what a material, a machine, a band stock or a coolant does to it are told as
    minutes and factors, of which `Fit.parameters` has the logs.
    """
    table, undone = fit.parameters, ("log_scale", *FACTORS) if fit.pooled else ()
    names = [n for n in table.index if everything or n in LIFE or n.startswith(FACTORS)]
    out: list[tuple[str, ...]] = []
    for name in names:
        told = name.startswith(undone)
        p = _as_factor(fit, name) if told else table.loc[name]
        interval = f"{digits(p.low, p.standard_error)} to {digits(p.high, p.standard_error)}" if p.low == p.low else ""
        said = "moved" if p.moved else "the prior speaks"
        data = said if p.low == p.low and fit.pooled else p.source if p.low != p.low else ""
        label = UNDONE.get(name, f"{name}, times the life") if told else plain(name)
        out.append((label, digits(p.estimate, p.standard_error), interval, p.prior, data))
    return out


def _as_factor(fit: Any, name: str) -> Any:
    """The row of a log, undone."""
    row = fit.parameters.loc[name].copy()
    for key in ("estimate", "low", "high"):
        row[key] = math.exp(min(row[key], 700.0))
    row["standard_error"] = (row["high"] - row["low"]) / 2.563  # of the 80 % interval of a normal law
    if row["prior"]:
        low, middle, high = (math.exp(x) for x in fit.layout.priors[fit.layout.names.index(name)].interval(LEVEL))
        row["prior"] = told(low, middle, high)
    return row


def fields(fit: Any) -> list[tuple[str, Any]]:
    """The one list both displays are made of: (heading, lines or table rows)."""
    return [
        ("Status", [status(fit)]),
        ("Used", [used(fit)]),
        ("Signals", [", ".join(fit.signals) or "none: only the bands' ends speak"]),
        ("Warnings", warnings(fit) or ["none"]),
        (
            f"Parameters ({int(100 * LEVEL)} % intervals)",
            [("quantity", "estimate", "interval", "prior" if fit.pooled else "", "data"), *rows(fit)],
        ),
    ]


def text(fit: Any) -> str:
    """A fit as text, from `fields`."""
    lines = []
    for heading, content in fields(fit):
        if isinstance(content[0], str):
            lines += [f"{heading}: {content[0]}", *(" " * (len(heading) + 2) + line for line in content[1:])]
            continue
        lines += ["", heading, *words.table_text(content)]
    return "\n".join(lines)


def html(fit: Any) -> str:
    """A fit as HTML, from `fields`; everything is escaped."""
    parts = []
    for heading, content in fields(fit):
        if isinstance(content[0], str):
            parts.append(f"<p><b>{escape(heading)}</b>: " + "<br>".join(map(escape, content)) + "</p>")
            continue
        parts.append(f"<p><b>{escape(heading)}</b></p>{words.table_html(content[0], content[1:])}")
    return "".join(parts)
