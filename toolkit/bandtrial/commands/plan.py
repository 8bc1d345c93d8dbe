"""Which cuts to try next for a job, and when trying more is a waste."""

import argparse

from bandtrial.commands.errors import StudyProblemsError, WrongUseError
from bandtrial.commands.options import fitted, job, job_arguments, json_argument, open_study, study_argument, work
from bandtrial.commands.output import answer


def arguments(parser: argparse.ArgumentParser) -> None:
    study_argument(parser)
    job_arguments(parser)
    parser.add_argument("--minutes", required=True, metavar="N", help="machine minutes free for trial cuts")
    parser.add_argument("--work-ahead", metavar="AREA",
                        help='of this work still to be sawn, as "2000 in**2", "400 cuts" or "8 h"')  # fmt: skip
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    minutes = _minutes(args.minutes)
    study = open_study(args.study)
    ask = job(args, study)
    if args.work_ahead:
        ask["horizon_cm2"] = work(args.work_ahead, "--work-ahead", study, ask)
    from bandtrial import recommend, trials

    try:
        fit = fitted(study) if len(study.cuts) else None  # a shop's first plan needs no cut
        answer(trials.plan(fit, study, minutes=minutes, **ask), args.json)
    except recommend.NotYet as no:
        raise StudyProblemsError(str(no)) from None
    return 0


def _minutes(text: str) -> float:
    try:
        minutes = float(text)
    except ValueError:
        minutes = float("nan")
    if not abs(minutes) < float("inf"):
        raise WrongUseError(f"--minutes: '{text}' is not a number of minutes, as 100")
    return minutes
