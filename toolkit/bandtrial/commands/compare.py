"""The published start against what the shop's own cuts say, per machine and material."""

import argparse

from bandtrial.commands.options import fitted, json_argument, open_study, study_argument
from bandtrial.commands.output import answer


def arguments(parser: argparse.ArgumentParser) -> None:
    study_argument(parser)
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    study = open_study(args.study)
    from bandtrial import recommend

    answer(recommend.compare(fitted(study), study), args.json)
    return 0
