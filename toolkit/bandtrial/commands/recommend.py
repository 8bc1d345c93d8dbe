"""The setting for a job on a machine, its limits, its cost, and how sure that is."""

import argparse

from bandtrial.commands.errors import StudyProblemsError, WrongUseError
from bandtrial.commands.options import (
    fitted,
    job,
    job_arguments,
    json_argument,
    open_study,
    quantity,
    study_argument,
    work,
)
from bandtrial.commands.output import answer

GOALS = ("lowest-cost", "highest-output")


def arguments(parser: argparse.ArgumentParser) -> None:
    study_argument(parser)
    job_arguments(parser)
    parser.add_argument("--goal", default=GOALS[0], choices=GOALS, help=f"{GOALS[0]} unless said")
    parser.add_argument("--deviation", metavar="LENGTH", help='the most that a cut may run off, as "0.2 mm"')
    parser.add_argument("--life-at-least", metavar="AREA",
                        help='what a band has to saw, as "40000 cm**2", "400 cuts" or "8 h"')  # fmt: skip
    parser.add_argument("--per-month", metavar="AMOUNT", help='of this work, as "400 pieces" or "9000 in**2"')
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    study = open_study(args.study)
    ask = job(args, study) | {"goal": args.goal}
    if args.deviation:
        ask["deviation"] = quantity(args.deviation, "length", "--deviation", study.units)
    if args.life_at_least:
        ask["life_at_least"] = work(args.life_at_least, "--life-at-least", study, ask)
    if args.per_month:
        ask["per_month"] = amount_of_work(args.per_month)
    from bandtrial import recommend

    try:
        answer(recommend.recommend(fitted(study), study, **ask), args.json)
    except recommend.NotYet as no:
        raise StudyProblemsError(str(no)) from None
    return 0


def amount_of_work(text: str) -> tuple[str, float]:
    """Pieces, or an area [cm2].

    >>> amount_of_work("400 pieces"), amount_of_work("2 m**2")
    (('pieces', 400.0), ('area', 20000.0))
    """
    from bandtrial import units

    number, kind, amount = text.strip().casefold().removesuffix("s").removesuffix("piece").strip(), "pieces", 0.0
    try:
        amount = units.number(number)
    except units.UnitError:
        try:
            kind, amount = "area", units.read(text, "area")
        except units.UnitError:
            asked = 'give pieces or an area, as "400 pieces" or "9000 in2"'
            raise WrongUseError(f"--per-month: '{text}' is no amount of work; {asked}") from None
    if not 0 < amount < float("inf"):
        raise WrongUseError(f"--per-month: '{text}' must be more than nothing")
    return kind, amount
