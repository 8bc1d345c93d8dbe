"""Fit cutting rate and band wear to the study's cuts."""

import argparse
import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING

from bandtrial.commands.options import fitted, json_argument, open_study, study_argument
from bandtrial.commands.output import answer

if TYPE_CHECKING:
    from bandtrial.study import Problem


def arguments(parser: argparse.ArgumentParser) -> None:
    study_argument(parser)
    parser.add_argument("--no-priors", action="store_true", help="plain maximum likelihood")
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    study = open_study(args.study)
    open_questions(study.problems, args.study)
    answer(fitted(study, priors=not args.no_priors), args.json)
    return 0


def open_questions(problems: Iterable["Problem"], folder: str, most: int = 5) -> None:
    """Questions about the log on standard error, before an answer that rests on it."""
    asked = [problem for problem in problems if problem.severity == "question"]
    for problem in asked[:most]:
        print(problem, file=sys.stderr)
    if len(asked) > most:
        print(f"and {len(asked) - most} more questions; `bandtrial check {folder}` lists them", file=sys.stderr)
