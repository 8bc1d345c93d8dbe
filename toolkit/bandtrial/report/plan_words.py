"""What the trial could not say, and the plan of cuts that would answer it, in words."""

from __future__ import annotations

from bandtrial.report import words
from bandtrial.report.fit_words import short
from bandtrial.report.job_words import title


def overview(rows, answered) -> list[str]:
    """One sentence on how much of what was asked can be answered."""
    if not rows:
        return ["There is no usable cut yet, and study.toml names no job: add machines, band stock, materials."]
    if answered == len(rows):
        return [f"All {words.count(len(rows), 'job')} cut so far can be answered." if len(rows) > 1 else
                "The job cut so far can be answered."]  # fmt: skip
    if not answered:
        return ["The study is too thin to answer yet. What is missing, and the cuts that would answer it, follow."]
    rest = "the other one" if len(rows) - answered == 1 else f"the other {len(rows) - answered}"
    return [f"{answered} of {len(rows)} jobs cut so far can be answered; of {rest} section 9 says why not yet, and "
            "what would help."]  # fmt: skip


def unsaid(study, answers, fit) -> list[str]:
    """What the data leave open: jobs without an answer and what would help them, parameters that did not move."""
    open_jobs = [a for a in answers if a.recommendation is None]
    lines = [" ".join(words.sentences([f"{title(study, a)}: {a.not_yet}", *a.would_help])) for a in open_jobs]
    if fit is None:
        return lines
    table = fit.parameters[fit.parameters["estimate"].notna()]
    still = [short(str(name)) for name in table.index[~table["moved"].astype(bool)] if "." not in str(name)]
    if still:
        lines.append(
            "On these figures the cuts say little, and the report leans on what was believed before the trial "
            f"(section 5 shows both): {words.listed(still)}."
        )
    return lines or ["Every job that was cut has an answer, and the data moved every parameter of band life."]


def plan(study, answer):
    """The next runs of a job as sentences and a table, or why there are none; None for a job without an answer that
    no run would bring nearer, of which `unsaid` says what would help."""
    if answer.plan is None or (answer.recommendation is None and not answer.plan.runs):
        return None
    given = answer.plan.to_json()
    heads = ["band", "speed on the dial", "true speed", "feed", "cuts", "minutes", "why"]
    rows = []
    for run in given["runs"]:
        feed = (
            words.quantity(run["feed_force_n"], "force", study.units)
            if run.get("feed_force_n") is not None
            else words.quantity(run.get("feed_rate_mm_min"), "feed_rate", study.units)
        )
        rows.append(
            [
                "a new band" if run["band"] == "new" else str(run["band"]),
                words.quantity(run["indicated_band_speed_m_min"], "speed", study.units),
                words.quantity(run["band_speed_m_min"], "speed", study.units),
                feed,
                f"{run['cuts']}",
                f"{run['minutes']:.0f}",
                str(run["why"]),
            ]
        )
    opening = "Worth trying: " if given["runs"] else "No trial cuts to make: "
    say = words.sentences([opening + str(given["reason"])])
    return {"say": say, "runs": (heads, rows)}
