"""Published starting settings for a material, with sources and where they disagree."""

import argparse

from bandtrial.commands.errors import WrongUseError
from bandtrial.commands.options import json_argument, quantity
from bandtrial.commands.output import answer

EDGES = ("carbon", "bimetal", "carbide")
COOLANTS = ("flood", "mist", "air", "dry")


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--material", required=True, metavar="GROUP",
                        help='as "low-carbon steel", "304", "240 HB", "120 ft/min"')  # fmt: skip
    parser.add_argument("--thickness", required=True, metavar="LENGTH", help='work thickness, as "5/8 in"')
    parser.add_argument("--edge", required=True, choices=EDGES, help="tooth material")
    parser.add_argument("--coolant", default="flood", choices=COOLANTS, help="flood unless said")
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    from bandtrial import published

    thickness = quantity(args.thickness, "length", "--thickness")
    try:
        start = published.start(args.material, thickness, args.edge, args.coolant)
    except published.PublishedError as error:
        raise WrongUseError(str(error)) from None
    answer(start, args.json)
    return 0
