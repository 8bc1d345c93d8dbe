"""The commands that answer from a study, a command a function.

They import inside the function what only they need, so that one word never pays for another.
"""

import argparse
import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING

from bandtrial.asked import GOALS
from bandtrial.commands.options import (
    JOB,
    JSON,
    STUDY,
    StudyProblemsError,
    WrongUseError,
    amount_of_work,
    answer,
    command,
    existing_folder,
    fit_of_any,
    fitted,
    job,
    one_of,
    open_study,
    option,
    page_file,
    quantity,
    refused,
    thickness,
    work,
)
from bandtrial.sawing import COOLANTS, EDGES, OPERATIONS
from bandtrial.words import count

if TYPE_CHECKING:
    from bandtrial.study import Problem, Study


@command(STUDY)
def check(args: argparse.Namespace) -> int:
    """Every problem of a study, at once: file, row, column, value, what is allowed."""
    folder = existing_folder(args.study)
    from bandtrial import study

    problems = study.check(folder)
    for problem in problems:
        print(problem, file=sys.stderr)
    errors, warnings, questions = (
        sum(problem.severity == severity for problem in problems) for severity in ("error", "warning", "question")
    )
    counts = [
        count(errors, "error"),
        count(warnings, "warning"),
        *([count(questions, "question")] if questions else []),
    ]
    print(f"{args.study}: {', '.join(counts)}")
    return 1 if errors else 0


@command(
    option("--material", required=True, metavar="GROUP", help='as "low-carbon steel", "304", "240 HB", "120 ft/min"'),
    option("--thickness", required=True, metavar="LENGTH", help='work thickness, as "5/8 in" or "2 in round"'),
    option("--units", choices=("us", "metric"), help="of a thickness without a unit: inches or mm"),
    option("--edge", required=True, choices=EDGES, help="tooth material"),
    option("--coolant", default="flood", choices=COOLANTS, help="flood unless said"),
    option("--operation", default="sawing", choices=(*OPERATIONS, "contour"), help="sawing unless said"),
    option("--evidence", action="store_true", help="each figure with its source and how it is known"),
    JSON,
)
def start(args: argparse.Namespace) -> int:
    """The first cut of a trial, from published figures: what to set, what to try after it, where sources disagree."""
    from bandtrial import published
    from bandtrial.published.start import start_text

    try:
        asked = args.material, thickness(args.thickness, args.units), args.edge, args.coolant
        start = published.start(*asked, operation=args.operation)
    except published.PublishedError as error:
        raise WrongUseError(str(error)) from None
    answer(start_text(start, evidence=True) if args.evidence and not args.json else start, args.json)
    return 0


@command(
    STUDY,
    option("--no-priors", action="store_true", help="plain maximum likelihood"),
    one_of(
        option("--prior-sensitivity", action="store_true",
               help="instead: which answers would move if a prior were half or twice as wide"),
        option("--prior-predictive", action="store_true",
               help="instead: how long the priors alone expect a band to last, without a cut"),
        option("--calibration", action="store_true",
               help="instead: how often intervals hold what made 20 logs that the priors could make of the cuts"),
    ),
    JSON,
)  # fmt: skip
def fit(args: argparse.Namespace) -> int:
    """Fit cutting rate and band wear to the study's cuts."""
    study = open_study(args.study)
    open_questions(study.problems, args.study)
    if args.no_priors and (args.prior_sensitivity or args.prior_predictive or args.calibration):
        raise WrongUseError("--no-priors leaves no prior to look at; leave it out")
    answer(_fit_or_its_priors(study, args), args.json)
    return 0


def _fit_or_its_priors(study: "Study", args: argparse.Namespace) -> object:
    """The fit, or what it or its priors say of the priors."""
    from bandtrial.study import cut_table
    from bandtrial.wear import sensitivity

    if args.prior_predictive:
        return sensitivity.prior_predictive(study, cut_table(study))
    fit = fitted(study, priors=not args.no_priors)
    if args.calibration:
        from bandtrial.wear.calibration import calibration

        return calibration(fit.rows)
    return sensitivity.prior_sensitivity(fit) if args.prior_sensitivity else fit


def open_questions(problems: Iterable["Problem"], folder: str, most: int = 5) -> None:
    """Questions about the log on standard error, before an answer that rests on it."""
    asked = [problem for problem in problems if problem.severity == "question"]
    for problem in asked[:most]:
        print(problem, file=sys.stderr)
    if len(asked) > most:
        print(f"and {len(asked) - most} more questions; `bandtrial check {folder}` lists them", file=sys.stderr)


@command(STUDY, JSON)
def compare(args: argparse.Namespace) -> int:
    """The published start against what the shop's own cuts say, per machine and material."""
    study = open_study(args.study)
    from bandtrial import recommend

    answer(recommend.compare(fitted(study), study), args.json)
    return 0


@command(
    STUDY,
    *JOB,
    option("--goal", default=GOALS[0], choices=GOALS, help=f"{GOALS[0]} unless said"),
    option("--deviation", metavar="LENGTH", help='the most that a cut may run off, as "0.2 mm"'),
    option("--life-at-least", metavar="AREA", help='what a band has to saw, as "40000 cm**2", "400 cuts"'),
    option("--per-month", metavar="AMOUNT", help='of this work, as "400 pieces" or "9000 in**2"'),
    JSON,
)
def recommend(args: argparse.Namespace) -> int:
    """The setting for a job on a machine, its limits, its cost, and how sure that is."""
    study = open_study(args.study)
    ask = job(args, study) | {"goal": args.goal}
    if args.deviation:
        ask["deviation"] = quantity(args.deviation, "length", "--deviation", study.units)
    if args.life_at_least:
        ask["life_at_least"] = work(args.life_at_least, "--life-at-least", study, ask)
    if args.per_month:
        ask["per_month"] = amount_of_work(args.per_month)
    from bandtrial import recommend as decided

    try:
        answer(decided.recommend(fit_of_any(study), study, **ask), args.json)
    except decided.NotYet as no:
        raise refused(no) from None
    return 0


@command(
    STUDY,
    *JOB,
    option("--minutes", required=True, metavar="N", help="machine minutes free for trial cuts"),
    option("--work-ahead", metavar="AREA", help='still to be sawn of it, as "2000 in**2", "400 cuts", "8 h"'),
    JSON,
)
def plan(args: argparse.Namespace) -> int:
    """Which cuts to try next for a job, and when trying more is a waste."""
    minutes = _minutes(args.minutes)
    study = open_study(args.study)
    ask = job(args, study)
    if args.work_ahead:
        ask["horizon_cm2"] = work(args.work_ahead, "--work-ahead", study, ask)
    from bandtrial import recommend, trials

    try:
        answer(trials.plan(fit_of_any(study), study, minutes=minutes, **ask), args.json)
    except recommend.NotYet as no:
        raise refused(no) from None
    return 0


def _minutes(text: str) -> float:
    try:
        minutes = float(text)
    except ValueError:
        minutes = float("nan")
    if not abs(minutes) < float("inf"):
        raise WrongUseError(f"--minutes: '{text}' is not a number of minutes, as 100")
    return minutes


@command(
    STUDY, option("--no-record", action="store_true", help="do not write what is foretold into forecasts.csv"), JSON
)
def watch(args: argparse.Namespace) -> int:
    """Wear used and cuts left for each band in service, when to change it, and how past forecasts did."""
    study = open_study(args.study)
    from bandtrial import watch as bands
    from bandtrial.disk import NotWrittenError

    seen = bands.watch(fitted(study), study)
    if not args.no_record:
        try:
            bands.keep(seen, study)
        except NotWrittenError as error:
            print(f"what is foretold was not written down: {error}", file=sys.stderr)
    answer(seen, args.json)
    return 0


@command(
    STUDY,
    option("-o", "--out", default="study.html", metavar="FILE", help="study.html unless said"),
    option("--pdf", action="store_true", help="a PDF of the same name beside it"),
    option("--summary", action="store_true", help="a folder beside it for who decides: a page, a mail, the figures"),
)
def report(args: argparse.Namespace) -> int:
    """The study report: one page that holds everything and asks no other machine for anything."""
    open_study(args.study)  # its problems in lines of their own before the long work
    out = page_file(args.out)
    from bandtrial import report as pages
    from bandtrial import wear

    try:
        pages.write_report(args.study, out, pdf=args.pdf, summary=args.summary)
    except (pages.NoBrowser, wear.FitError, OSError) as error:
        raise StudyProblemsError(str(error)) from None
    print(out)
    if args.pdf:
        print(out.with_suffix(".pdf"))
    if args.summary:
        print(out.with_name(f"{out.stem}_summary"))
    return 0


@command(
    option("before", metavar="BEFORE", help="the study folder of before the change"),
    option("after", metavar="AFTER", help="that of after it"),
    option("-o", "--out", metavar="FILE", help="a page of it too, as change.html"),
    option("--pdf", action="store_true", help="a PDF of the same name beside that page"),
    option("--matters", default="3%", metavar="SHARE", help="a smaller change is none; 3%% unless said"),
    JSON,
)
def change(args: argparse.Namespace) -> int:
    """Two studies compared, as before and after a new coolant, band or bar supplier: what changed, and how sure."""
    if args.pdf and not args.out:
        raise WrongUseError("--pdf: it is a PDF of the page; say where the page goes, as -o change.html --pdf")
    out = page_file(args.out) if args.out else None
    matters = _share(args.matters)
    studies = open_study(args.before), open_study(args.after)
    from bandtrial import recommend
    from bandtrial import report as pages

    fits = tuple(fitted(study) for study in studies)
    try:
        found = pages.change(*studies, fits, matters=matters)
    except recommend.NotYet as no:
        raise StudyProblemsError(str(no)) from None
    answer(found, args.json)
    if out:
        try:
            pages.write_change(args.before, args.after, out, pdf=args.pdf, found=found)
        except (pages.NoBrowser, OSError) as error:
            raise StudyProblemsError(str(error)) from None
    return 0


def _share(text: str) -> float:
    """A share of change, as 3% or 3 %."""
    try:
        value = float(text.strip().removesuffix("%")) / 100
    except ValueError:
        value = float("nan")
    if not 0 <= value < 1:
        raise WrongUseError(f"--matters: '{text}' is not a share of 0 % to 100 %, as 3%")
    return value
