"""The setup sheet: one page at the machine, read at arm's length, black on white, US and metric."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import __version__, published, units
from bandtrial.recommend.card_words import Words
from bandtrial.recommend.tried import piece_of
from bandtrial.recommend.wording import hand_pace
from bandtrial.report import words
from bandtrial.study import cut_table
from bandtrial.study.columns import COLUMNS, SIGNALS
from bandtrial.trials.board import NEW
from bandtrial.wear.signals import BY_FEED, BY_NAME
from bandtrial.words import listed

if TYPE_CHECKING:
    from bandtrial.recommend.answer import Recommendation
    from bandtrial.recommend.job import Job
    from bandtrial.study.model import Study
    from bandtrial.trials.plan import Plan
    from bandtrial.wear.fit import Fit


LOOK = (  # common practice, no source
    "Chips: loose curls that fall away.",
    "Fine dust: the feed is too light, or the teeth are dull.",
    "Blue or welded chips: too hot. Check that coolant reaches the teeth.",
)
LISTEN = (  # common practice, no source
    "An even hum is right. Squeal: feed too light, or band dull.",
    "Chatter: work loose, guides off, too few teeth in the cut.",
    "A knock at each turn: bad weld or missing teeth.",
)
STOP = (  # common practice, no source
    "teeth are missing, the band is cracked, or the weld opens",
    "the band runs off its wheels or guides, or the work moves",
    "no chips come while the feed presses",
)
SAID_OVER = {"deviation": "a cut runs off by over"}
BREAK_IN = ("50 to 100 in²", "320 to 650 cm²")  # published/model_priors.csv, break_in_feed


def write_sheet(
    recommendation: Any, study: Study, out: Any, pdf: bool = False, fit: Fit | None = None, made: str | None = None
) -> Path:
    """Write the setup sheet of a recommendation to `out` (HTML, one page), and a PDF beside it if asked.

    fit : of the study, for the power or time at which to stop; without it those lines are left out
    made : the date on the sheet, today's by default

    Returns the path of the HTML file. Raises pdf.NoBrowser, disk.NotWrittenError.
    """
    from bandtrial.report.html import write_sheet_of

    return write_sheet_of("sheet.html", sheet_fields(recommendation, study, fit), study, out, pdf, made)


def sheet_fields(r: Recommendation, study: Study, fit: Fit | None = None) -> dict[str, Any]:
    """Every field of templates/sheet.html that it has beside other sheets."""
    from bandtrial.report import html

    job = r.job
    notes = study.info.get("safety_notes") or []
    return {
        "machine": job.machine.id,
        "material": job.material.name or job.material.id,
        "banner": banner(r),
        "ready": r.status.startswith("READY"),
        "job": _job(job),
        "settings": _settings(r, study),
        "expect": f"{_expect(r, study)} {_sign(r)}".strip(),
        "look": [f"New band: first {BREAK_IN[0]} ({BREAK_IN[1]}) at 20 to 50 % of this feed.", *LOOK],
        "listen": LISTEN,
        "stop": [*_stop_numbers(r, study, fit), *STOP],
        "cautions": [*published.CAUTIONS, *([notes] if isinstance(notes, str) else notes)],
        "footer": f"bandtrial {__version__}, data {html.data_hash(study.path)[:12]}, "
        f"{words.count(r.evidence['cuts'], 'cut')} on {words.count(r.evidence['bands'], 'band')}",
    }


def banner(r: Recommendation) -> list[str]:
    """What has to be read before the setting is used: nothing where every limit holds without a warning."""
    lines = [] if r.head.startswith("READY:") else [r.head]
    return lines + words.sentences([*r.warnings, r.next_step])


def both(value: Any, kind: str, system: str) -> tuple[str, str]:
    """A value in the study's system and in the other one."""
    return words.quantity(value, kind, system), words.quantity(value, kind, units.other(system))


def _job(job: Job) -> list[tuple[str, str]]:
    s = job.stock
    thickness = " / ".join(
        _rough(job.thickness, "length", system, 4) for system in (job.system, units.other(job.system))
    )
    size = " × ".join(words.quantity(x, "length", job.system) for x in (s.width, s.thickness))
    return [
        ("material", job.material.name or job.material.id),
        ("work thickness", thickness),
        ("coolant", job.coolant),
        ("band", f"{s.id}: {s.pitch} {s.tooth_form}"),
        ("set and edge", f"{s.set}, {s.edge}"),
        ("band size", size),
    ]


def _settings(r: Recommendation, study: Study) -> list[dict[str, str]]:
    s, job, system = r.setting, r.job, study.units
    dial, other = both(s.indicated, "speed", system)
    true = " / ".join(both(s.band_speed, "speed", system))
    kind = "force" if job.feed == "force" else "feed_rate"
    feed, other_feed = both(s.feed, kind, system)
    number, _, ends = words.speed_range(job, s.indicated).partition(": ")
    pace = f"; {hand_pace(s.feed, system)}" if job.feed == "hand" else ""
    return [
        {"name": "band speed, on the dial", "value": dial, "also": f"{other} (true {true})"},
        {"name": "speed range lever", "value": number.removeprefix("speed range ") if ends else "NONE", "also": ends},
        {"name": words.feed_name(job), "value": feed, "also": other_feed + pace},
        _change(r, study),
    ]


def _change(r: Recommendation, study: Study) -> dict[str, str]:
    if r.sign and r.sign.pays == "sign":
        return _by_sign(r.sign, study)
    after, piece = r.setting.change_after, _piece_area(r.job, study)
    name = "change the band"
    life = r.setting.life
    if after is None:
        pieces = f", {words.rounded(life.value / piece)} pieces" if piece else ""
        expected = " / ".join(_rough(life.value, "area", system) for system in (study.units, units.other(study.units)))
        return {"name": name, "value": "when dull", "also": f"about {expected}{pieces}"}
    value, other = both(after, "area", study.units)
    pieces = f"; {int(after / piece):,} pieces" if piece else ""
    return {"name": f"{name} after", "value": value, "also": f"{other}{pieces}; or when it ends"}


def _by_sign(sign: Any, study: Study) -> dict[str, str]:
    """The sign to look for: its reading, and when it is to be expected."""
    what, limit, rest = sign.parts(study.units)
    also = f"{rest}: {sign.until()}; or when it ends"
    if sign.after:
        latest = " / ".join(_rough(sign.after, "area", system) for system in (study.units, units.other(study.units)))
        also = f"{rest}: {sign.until()}; or after {latest}, or when it ends"
    return {"name": f"change the band when {what}", "value": limit, "also": also}


def _piece_area(job: Job, study: Study) -> float | None:
    """Area of the piece the job is counted in [cm2], None where it was never cut."""
    piece = piece_of(cut_table(study), job)
    return piece.area if piece.logged else None


def _expect(r: Recommendation, study: Study) -> str:
    """How long a piece should take, and how fast that is."""
    rate = words.span(r.setting.rate, "rate", study.units)
    piece = _piece_area(r.job, study)
    if not piece:
        return f"Expect {rate} while cutting."
    minutes = piece / r.setting.rate.value
    time = f"{minutes:.1f} min" if minutes < 10 else f"{minutes:.0f} min"
    return f"A piece of {words.quantity(piece, 'area', study.units)} takes about {time} ({rate})."


def _sign(r: Recommendation) -> str:
    """By what readings the band comes off, where the lines above do not say."""
    signs = Words(r).signs() if r.card and not (r.sign and r.sign.pays == "sign") else []
    return f"Take the band off when {listed(signs, 'or')}." if signs else ""


def _rough(value: Any, kind: str, system: str, digits: int = 2) -> str:
    """A value to so many figures."""
    unit = units.display_unit(kind, system)
    return f"{words.rounded(float(units.from_inside(value, kind, unit)), digits)} {unit}"


def _stop_numbers(r: Recommendation, study: Study, fit: Fit | None) -> list[str]:
    """Readings at which to stop, from what the fit knows of this setting: 9 in 10 dull bands read less."""
    if fit is None:
        return []
    s, job = r.setting, r.job
    names = {"material": job.material.id, "machine": job.machine.id, "stock": job.stock.id}
    lines = []
    at = (s.band_speed, s.chip_load, job.thickness)
    for signal in SIGNALS:
        kind, text = COLUMNS[signal].kind, SAID_OVER.get(signal, f"{COLUMNS[signal].words} is over")
        if signal in fit.signals and signal in BY_FEED[job.feed]:
            draws = fit.signal(signal, *at, **names, wear_used=np.array([0.0, 1.0]))
            fresh, end = float(np.median(draws[:, 0])), float(np.quantile(draws[:, 1], 0.9))
            if end > fresh:  # at a set force the chip thins as the band dulls, and some readings fall with it
                new, old = _rough(fresh, kind, study.units), _rough(end, kind, study.units)
                lines.append(f"{text} {old} / {_rough(end, kind, units.other(study.units))} (new band: {new})")
    if job.feed == "force" and "chip_load" in fit.signals:
        h = fit.chip_load_at_force(s.feed, s.band_speed, job.thickness, **names, wear_used=np.array([0.0, 1.0]))
        lines.append(f"a piece takes over {float(np.median(h[:, 0] / h[:, 1])):.1f} times a new band's time")
    return lines


MOST_LINES = 20
"""Lines to write on for one run; a longer run is written every so many cuts."""


def write_run_sheet(plan: Plan, study: Study, out: Any, pdf: bool = False, made: str | None = None) -> Path:
    """Write the run sheet of a `trials.Plan` to `out` (HTML), and a PDF beside it if asked.

    made : the date on the sheet, today's by default. Returns the path of the HTML file. Raises ValueError for
    a plan without runs, pdf.NoBrowser, disk.NotWrittenError.
    """
    from bandtrial.report.html import write_sheet_of

    if not plan.runs:
        raise ValueError(f"The plan has no runs to make: {plan.reason}.")
    return write_sheet_of("run_sheet.html", run_sheet_fields(plan, study), study, out, pdf, made)


def run_sheet_fields(plan: Plan, study: Study) -> dict[str, Any]:
    """Every field of templates/run_sheet.html that it has beside other sheets."""
    job = plan.job
    return {
        "machine": job.machine.id,
        "reason": plan.reason,
        "job": [
            ("material", job.material.name or job.material.id),
            ("work thickness", words.quantity(job.thickness, "length", study.units)),
            ("coolant", job.coolant),
            ("band", f"{job.stock.id}: {job.stock.pitch} {job.stock.tooth_form}, {job.stock.edge}"),
        ],
        "runs": [_run(n, run, job, study.units) for n, run in enumerate(plan.runs, start=1)],
        "heads": _heads(job, study.units),
        "rules": [
            "Set nothing but what stands here; write down what was really set where it differs.",
            f"A new band: first {BREAK_IN[0]} ({BREAK_IN[1]}) at 20 to 50 % of the feed, logged as cuts of their own.",
            "Keep coolant, guides and clamping as they are from run to run.",
        ],
        "stop": STOP,
        "cautions": published.CAUTIONS,
    }


def _heads(job: Job, system: str) -> list[str]:
    """What to write down for each cut, in the units of the log form."""
    measured = [name for name in SIGNALS if name in BY_FEED[job.feed] and BY_NAME[name].at_the_saw]
    measured += ["feed_force"] * (job.feed == "force")
    fields = [f"{name.replace('_', ' ')} [{COLUMNS[name].unit(system)}]" for name in measured]
    return ["cut", "start", "cut time [min:s]", *fields, "note: noise, chips, coolant"]


def _run(n: int, run: Any, job: Job, system: str) -> dict[str, Any]:
    every = -(-run.cuts // MOST_LINES)
    return {
        "title": f"Run {n}: " + ("a new band" if run.band == NEW else f"band {run.band}"),
        "speed": words.quantity(run.indicated, "speed", system),
        "feed": words.feed(job, run.feed),
        "feed_name": words.feed_name(job),
        "cuts": f"{words.count(run.cuts, 'cut')}, about {words.count(round(run.minutes), 'minute')} of cutting",
        "why": run.why,
        "lines": list(range(1, run.cuts + 1, every)),
    }
