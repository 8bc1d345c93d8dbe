"""Gathers everything a report says, once: the page, the CSV and the JSON are made from the same fields."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from bandtrial import __version__, published, recommend, wear
from bandtrial.report import answers, data, figures, fit_words, html, page, watch_sheet, words
from bandtrial.report import answers as ask
from bandtrial.report.answers import Answer
from bandtrial.study import band_table, cut_table
from bandtrial.study.model import Study
from bandtrial.watch import watch
from bandtrial.wear.fit import Fit

MOST_ROWS = 300  # lines of a table in the page; what has more is summed up, and the CSV files have it all
MOST_PROBLEMS = 100


@dataclass(frozen=True)
class Gathered:
    """A study with everything computed from it that the report needs."""

    study: Any
    cuts: Any
    bands: Any
    fit: Any
    answers: list[Any]
    others: list[Any]
    comparison: Any
    watch: Any
    no_fit: str = ""

    @cached_property
    def why_left_out(self) -> np.ndarray:
        """Why each cut is left out of the fit (n,), "" where it is not or where there is no fit."""
        return data.reasons(self.cuts, self.fit.excluded) if self.fit else np.full(len(self.cuts), "", object)


def gather(study: Study, fit: Fit | None = None) -> Gathered:
    """Fit the study and ask it everything the report says."""
    cuts, bands = cut_table(study), band_table(study)
    try:
        fit = wear.fit(study) if fit is None else fit
    except wear.FitError as no:
        answered, others = ask.answers(None, study, cuts)
        return Gathered(study, cuts, bands, None, answered, others, None, None, str(no))
    answered, others = ask.answers(fit, study, cuts)
    compared, watched = recommend.compare(fit, study), watch(fit, study, cuts=cuts)
    return Gathered(study, cuts, bands, fit, answered, others, compared, watched)


def page_fields(g: Gathered, made: str, command: str, beside: str) -> dict[str, Any]:
    """Every field of templates/report.html."""
    fields: dict[str, Any] = {}
    parts: tuple[Callable[[Gathered], dict[str, Any]], ...] = (_head, _shop, _data, _model, _jobs, _watch)
    for part in parts:
        fields |= part(g)
    return fields | {"made": made, "command": command, "beside": beside}


def _head(g: Gathered) -> dict[str, Any]:
    info = g.study.info
    digest = html.data_hash(g.study.path)
    notes = info.get("safety_notes") or []
    return {
        "title": g.study.name,
        "author": str(info.get("author") or "an author not named in study.toml"),
        "question": str(info.get("question") or "no question is written in study.toml"),
        "foot": css_text(f"{g.study.name} · data {digest[:12]}"),
        "version": __version__,
        "cautions": published.CAUTIONS,
        "cautions_here": words.cautions(g.study),
        "glossary": list(page.TERMS.items()),
        "safety_notes": [notes] if isinstance(notes, str) else list(notes),
        "hashes": list(map(list, html.file_hashes(g.study.path).items())),
        "versions": list(map(list, html.versions().items())),
        "contents": CONTENTS,
    }


def _shop(g: Gathered) -> dict[str, Any]:
    return {
        "machines": data.machines(g.study),
        "stock": data.band_stock(g.study),
        "materials": data.materials(g.study),
        "costs": data.costs(g.study),
        "cost_words": [
            "Cost per area in the long run: machine and labor for cutting and for changing bands, the bands, "
            "and the piece lost when a band ends in the cut, over the area a band saws on average."
        ],
    }


def _data(g: Gathered) -> dict[str, Any]:
    out, few = int((g.why_left_out != "").sum()), 0 < len(g.cuts) <= MOST_ROWS
    bands = data.bands if len(g.bands) <= MOST_ROWS else data.bands_summed
    left_out = data.left_out if out <= MOST_ROWS else data.left_out_summed
    return {
        "data_words": _data_words(g, out, few),
        "summary": data.summary(g.study, g.cuts),
        "bands_title": BANDS_TITLE[bands is data.bands],
        "bands": bands(g.study, g.cuts, g.bands),
        "left_out_title": LEFT_OUT_TITLE[left_out is data.left_out],
        "left_out": left_out(g.cuts, g.why_left_out),
        "problems": words.first(map(str, g.study.problems), MOST_PROBLEMS, "bandtrial check STUDY prints them all"),
        "rate_picture": figures.rate(g.study, g.cuts) if g.fit else None,
        "every_cut": data.every_cut(g.study, g.cuts) if few else None,
    }


def _data_words(g: Gathered, out: int, few: bool) -> list[str]:
    if not len(g.cuts):
        return ["The log has no cut yet."]
    where = "section 14 and the CSV file list them" if few else "the CSV file lists them"
    log = f"The log has {words.count(len(g.cuts), 'cut')} on {words.count(len(g.bands), 'band')}; "
    left = f"{out or 'none'} of them {'is' if out == 1 else 'are'} left out of the fit. "
    how = f"A cut that the shop excludes still wears its band. Cuts are named by their numbers; {where} one by one."
    lines = [log + left + how]
    if len(g.bands) > MOST_ROWS:
        lines.append("So many bands are summed up here; the CSV file of bands beside this page lists each.")
    return lines


def _model(g: Gathered) -> dict[str, Any]:
    if g.fit is None:
        return {"no_fit": g.no_fit}
    return {
        "no_fit": "",
        "prior_words": fit_words.prior_words(g.fit, g.study.units),
        "prior_picture": figures.priors(fit_words.prior_rows(g.fit, g.study.units)),
        "life_parameters": fit_words.parameters(g.fit, g.study.units, of_signals=False),
        "signal_parameters": fit_words.parameters(g.fit, g.study.units, of_signals=True),
        "sources": fit_words.sources(g.fit),
        "check_words": fit_words.check_words(g.fit),
        "diagnostics": fit_words.diagnostics(g.fit),
        "residuals": fit_words.residuals(g.fit),
        "signal_pictures": figures.signals(g.fit, g.study),
    }


def _jobs(g: Gathered) -> dict[str, Any]:
    rows = [_job(g, answer) for answer in g.answers]
    answered = sum(row["settings"] is not None for row in rows)
    return {
        "answers": rows,
        "more_answers": words.more_answers(g.study, [a for a in g.answers if not a.asked]),
        "overview": answers.overview(rows, answered),
        "others": "; ".join(f"{work.material} on {work.machine} with {work.stock}" for work in g.others),
        **_comparison(g),
        "unsaid": answers.unsaid(g.study, g.answers, g.fit),
        "any_plan": any(row["plan"] for row in rows),
    }


def _comparison(g: Gathered) -> dict[str, Any]:
    if g.comparison is None:
        return {"compare_words": ["There is no cut to compare the published start with."], "comparison": ([], [])}
    status = f"{g.comparison.status}. Published starts are for a typical shop; intervals are 80 %."
    return {"compare_words": [status], "comparison": words.comparison(g.study, g.comparison)}


def _job(g: Gathered, answer: Answer) -> dict[str, Any]:
    r = answer.recommendation
    row: dict[str, Any] = {
        "asked": answer.asked,
        "title": words.title(g.study, answer),
        "card": r.card_lines(answer.plan) if r else [],
        "not_yet": "" if r else words.not_yet(answer),
        "status": r.head if r else "",
        "help": words.would_help(answer),
        "settings": None,
        "published": words.published_rows(g.study, answer),
        "plan": answers.plan(g.study, answer),
    }
    if r:
        pictures: list[figures.Picture | None] = []
        if answer.asked:
            pictures = [figures.life(g.fit, g.study, answer), figures.cost(g.fit, g.study, answer),
                        figures.curve(g.study, answer)]  # fmt: skip
        row |= {
            "worked_out": words.worked_out(answer),
            "settings": words.settings(answer),
            "compared": words.compared(g.study, answer),
            "limits": words.limits(g.study, answer),
            "warnings": words.sentences([*r.warnings, r.next_step]),
            "pictures": pictures,
        }
    return row


def _watch(g: Gathered) -> dict[str, Any]:
    if g.watch is None:
        return {"watch_table": ([], []), "watch_words": ["No band has made a cut."], "alarm_pictures": []}
    return {
        "watch_table": watch_sheet.table(g.study, g.watch),
        "watch_words": watch_sheet.sentences(g.watch),
        "alarm_pictures": watch_sheet.pictures(g),
    }


BANDS_TITLE = {True: "Every band, and the cuts of it that are used", False: "What the bands did"}
LEFT_OUT_TITLE = {True: "Cuts left out of the fit", False: "Cuts left out of the fit, by reason"}


def css_text(text: str) -> str:
    r"""A text as the inside of a CSS string that cannot end the string or the style element.

    >>> css_text('a "b" </style>')
    'a \\22 b\\22  \\3c \\2f style\\3e '
    """
    return "".join(c if c.isalnum() or c in " ·.,-_" else f"\\{ord(c):x} " for c in text)


CONTENTS = [
    ("answer", "Question and answer"),
    ("shop", "Shop, machines, bands, materials"),
    ("data", "The cuts: used and left out"),
    ("model", "The model"),
    ("priors", "What was believed before, and what the data made of it"),
    ("checks", "Does the model fit the cuts?"),
    ("compare", "The published start against the shop’s own cuts"),
    ("recommend", "Recommendations, intervals and limits"),
    ("plan", "What the trial could not say, and the cuts that would"),
    ("watch", "Bands in service and alarms"),
    ("costs", "Costs"),
    ("cautions", "Cautions"),
    ("again", "How to make this report again"),
]
