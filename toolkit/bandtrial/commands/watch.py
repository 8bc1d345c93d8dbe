"""Wear used and cuts left for each band in service, when to change it, and how past forecasts did."""

import argparse
import sys

from bandtrial.commands.options import fitted, json_argument, open_study, study_argument
from bandtrial.commands.output import answer


def arguments(parser: argparse.ArgumentParser) -> None:
    study_argument(parser)
    parser.add_argument("--no-record", action="store_true", help="do not write what is foretold into forecasts.csv")
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    study = open_study(args.study)
    from bandtrial import watch
    from bandtrial.disk import NotWrittenError

    seen = watch.watch(fitted(study), study)
    if not args.no_record:
        try:
            watch.keep(seen, study)
        except NotWrittenError as error:
            print(f"what is foretold was not written down: {error}", file=sys.stderr)
    answer(seen, args.json)
    return 0
