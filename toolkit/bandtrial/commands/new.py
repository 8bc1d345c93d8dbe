"""An empty study with commented templates."""

import argparse

from bandtrial.commands.options import WrongUseError


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", metavar="FOLDER", help="a folder that does not exist yet, or is empty")


def run(args: argparse.Namespace) -> int:
    from bandtrial import study

    try:
        study.new_study(args.folder)
    except study.StudyError as error:
        raise WrongUseError(str(error)) from None
    print(
        f"{args.folder}: an empty study; fill in study.toml and bands.csv, log cuts in cuts.csv, "
        f"then `bandtrial check {args.folder}`"
    )
    return 0
