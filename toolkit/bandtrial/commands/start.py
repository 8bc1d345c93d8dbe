"""The first cut of a trial, from published figures: what to set, what to try after it, where sources disagree."""

import argparse

from bandtrial.commands.errors import WrongUseError
from bandtrial.commands.options import json_argument, quantity
from bandtrial.commands.output import answer

EDGES = ("carbon", "bimetal", "carbide")
OPERATIONS = ("sawing", "filing", "polishing", "contour")
COOLANTS = ("flood", "mist", "air", "dry")


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--material", required=True, metavar="GROUP",
                        help='as "low-carbon steel", "304", "240 HB", "120 ft/min"')  # fmt: skip
    parser.add_argument("--thickness", required=True, metavar="LENGTH", help='work thickness, as "5/8 in"')
    parser.add_argument("--units", choices=("us", "metric"), help="of a thickness without a unit: inches or mm")
    parser.add_argument("--edge", required=True, choices=EDGES, help="tooth material")
    parser.add_argument("--coolant", default="flood", choices=COOLANTS, help="flood unless said")
    parser.add_argument("--operation", default="sawing", choices=OPERATIONS, help="sawing unless said")
    parser.add_argument("--evidence", action="store_true", help="each figure with its source and how it is known")
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    from bandtrial import published
    from bandtrial.published.start import start_text

    thickness = quantity(args.thickness, "length", "--thickness", args.units)
    try:
        start = published.start(args.material, thickness, args.edge, args.coolant, operation=args.operation)
    except published.PublishedError as error:
        raise WrongUseError(str(error)) from None
    answer(start_text(start, evidence=True) if args.evidence and not args.json else start, args.json)
    return 0
