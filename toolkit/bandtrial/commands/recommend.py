"""The setting for a job on a machine, its limits, its cost, and how sure that is."""

import argparse

from bandtrial.commands.errors import StudyProblemsError
from bandtrial.commands.options import (
    fitted,
    job,
    job_arguments,
    json_argument,
    open_study,
    quantity,
    study_argument,
)
from bandtrial.commands.output import answer

GOALS = ("lowest-cost", "highest-output")


def arguments(parser: argparse.ArgumentParser) -> None:
    study_argument(parser)
    job_arguments(parser)
    parser.add_argument("--goal", default=GOALS[0], choices=GOALS, help=f"{GOALS[0]} unless said")
    parser.add_argument("--deviation", metavar="LENGTH", help='the most that a cut may run off, as "0.2 mm"')
    parser.add_argument("--life-at-least", metavar="AREA", help='area a band has to saw, as "40000 cm**2"')
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    study = open_study(args.study)
    ask = job(args, study) | {"goal": args.goal}
    if args.deviation:
        ask["deviation"] = quantity(args.deviation, "length", "--deviation")
    if args.life_at_least:
        ask["life_at_least"] = quantity(args.life_at_least, "area", "--life-at-least")
    from bandtrial import recommend

    try:
        answer(recommend.recommend(fitted(study), study, **ask), args.json)
    except recommend.NotYet as no:
        raise StudyProblemsError(str(no)) from None
    return 0
