"""Fit cutting rate and band wear to the study's cuts."""

import argparse
import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING

from bandtrial.commands.errors import WrongUseError
from bandtrial.commands.options import fitted, json_argument, open_study, study_argument
from bandtrial.commands.output import answer

if TYPE_CHECKING:
    from bandtrial.study import Problem, Study


def arguments(parser: argparse.ArgumentParser) -> None:
    study_argument(parser)
    parser.add_argument("--no-priors", action="store_true", help="plain maximum likelihood")
    instead = parser.add_mutually_exclusive_group()
    words = "instead: which answers would move if a prior were half or twice as wide"
    instead.add_argument("--prior-sensitivity", action="store_true", help=words)
    words = "instead: how long the priors alone expect a band to last, without a cut"
    instead.add_argument("--prior-predictive", action="store_true", help=words)
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    study = open_study(args.study)
    open_questions(study.problems, args.study)
    if args.no_priors and (args.prior_sensitivity or args.prior_predictive):
        raise WrongUseError("--no-priors leaves no prior to look at; leave it out")
    answer(asked(study, args), args.json)
    return 0


def asked(study: "Study", args: argparse.Namespace) -> object:
    """The fit, or what it or its priors say of the priors."""
    from bandtrial.study import cut_table
    from bandtrial.wear import sensitivity

    if args.prior_predictive:
        return sensitivity.prior_predictive(study, cut_table(study))
    fit = fitted(study, priors=not args.no_priors)
    return sensitivity.prior_sensitivity(fit) if args.prior_sensitivity else fit


def open_questions(problems: Iterable["Problem"], folder: str, most: int = 5) -> None:
    """Questions about the log on standard error, before an answer that rests on it."""
    asked = [problem for problem in problems if problem.severity == "question"]
    for problem in asked[:most]:
        print(problem, file=sys.stderr)
    if len(asked) > most:
        print(f"and {len(asked) - most} more questions; `bandtrial check {folder}` lists them", file=sys.stderr)
