"""The run sheet: the trial cuts of a plan to take to the machine, with room to write down what happened."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

from bandtrial.report import job_words, page, words
from bandtrial.study.columns import SIGNALS
from bandtrial.trials.board import NEW
from bandtrial.wear.signals import BY_FEED, BY_NAME

MOST_LINES = 20
"""Lines to write on for one run; a longer run is written every so many cuts."""


def write_run_sheet(plan, study, out, pdf=False, made: str | None = None) -> Path:
    """Write the run sheet of a `trials.Plan` to `out` (HTML), and a PDF beside it if asked.

    made : the date on the sheet, today's by default. Returns the path of the HTML file. Raises ValueError for
    a plan without runs, pdf.NoBrowser, disk.NotWrittenError.
    """
    from bandtrial.disk import save
    from bandtrial.report.pdf import print_pdf

    if not plan.runs:
        raise ValueError(f"The plan has no runs to make: {plan.reason}.")
    out = Path(out)
    fields = run_sheet_fields(plan, study, made or datetime.date.today().isoformat())
    text = page.render("run_sheet.html", css=page.style("sheet.css"), paper=page.PAPER[study.units], **fields)
    save(out, text)
    if pdf:
        print_pdf(out, out.with_suffix(".pdf"))
    return out


def run_sheet_fields(plan, study, made: str) -> dict[str, Any]:
    """Every field of templates/run_sheet.html."""
    from bandtrial import published
    from bandtrial.report.sheet import BREAK_IN, STOP

    job = plan.job
    return {
        "machine": job.machine.id,
        "study_name": str(study.info.get("name") or study.path.name),
        "made": made,
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


def _heads(job, system: str) -> list[str]:
    """What to write down for each cut, in the units of the log form."""
    from bandtrial.study import draft

    mode = "force" if job.feed == "force" else "rate"
    measured = [name for name in SIGNALS if name in BY_FEED[mode] and BY_NAME[name].at_the_saw] + ["feed_force"] * (
        mode == "force"
    )
    fields = [f"{name.replace('_', ' ')} [{draft.default_unit(name, system)}]" for name in measured]
    return ["cut", "start", "cut time [min:s]", *fields, "note: noise, chips, coolant"]


def _run(n: int, run, job, system: str) -> dict[str, Any]:
    every = -(-run.cuts // MOST_LINES)
    return {
        "title": f"Run {n}: " + ("a new band" if run.band == NEW else f"band {run.band}"),
        "speed": words.quantity(run.indicated, "speed", system),
        "feed": job_words.feed(job, run.feed),
        "feed_name": job_words.feed_name(job),
        "cuts": f"{words.count(run.cuts, 'cut')}, about {words.count(round(run.minutes), 'minute')} of cutting",
        "why": run.why,
        "lines": list(range(1, run.cuts + 1, every)),
    }
