"""The study report: one page that holds everything and asks no other machine for anything."""

import argparse

from bandtrial.commands.errors import StudyProblemsError
from bandtrial.commands.options import open_study, page_file, study_argument


def arguments(parser: argparse.ArgumentParser) -> None:
    study_argument(parser)
    parser.add_argument("-o", "--out", default="study.html", metavar="FILE", help="study.html unless said")
    parser.add_argument("--pdf", action="store_true", help="a PDF of the same name beside it")


def run(args: argparse.Namespace) -> int:
    open_study(args.study)  # its problems in lines of their own before the long work
    out = page_file(args.out)
    from bandtrial import report, wear

    try:
        report.write_report(args.study, out, pdf=args.pdf)
    except (report.NoBrowser, wear.FitError, OSError) as error:
        raise StudyProblemsError(str(error)) from None
    print(out)
    if args.pdf:
        print(out.with_suffix(".pdf"))
    return 0
