"""Fit cutting rate and band wear to the study's cuts."""

import argparse

from bandtrial.commands.options import fitted, json_argument, open_study, study_argument
from bandtrial.commands.output import answer


def arguments(parser: argparse.ArgumentParser) -> None:
    study_argument(parser)
    parser.add_argument("--no-priors", action="store_true", help="plain maximum likelihood")
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    answer(fitted(open_study(args.study), priors=not args.no_priors), args.json)
    return 0
