"""Two studies compared, as before and after a new coolant, band or bar supplier: what changed, and how sure."""

import argparse
from pathlib import Path

from bandtrial.commands.errors import StudyProblemsError, WrongUseError
from bandtrial.commands.options import fitted, json_argument, open_study
from bandtrial.commands.output import answer


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("before", metavar="BEFORE", help="the study folder of before the change")
    parser.add_argument("after", metavar="AFTER", help="that of after it")
    parser.add_argument("-o", "--out", metavar="FILE", help="a page of it too, as change.html")
    parser.add_argument("--pdf", action="store_true", help="a PDF of the same name beside that page")
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    if args.pdf and not args.out:
        raise WrongUseError("--pdf: it is a PDF of the page; say where the page goes, as -o change.html --pdf")
    out = Path(args.out) if args.out else None
    if out and not out.parent.is_dir():
        raise WrongUseError(f"-o: there is no folder '{out.parent}' to write '{out.name}' into")
    studies = open_study(args.before), open_study(args.after)
    from bandtrial import report

    fits = tuple(fitted(study) for study in studies)
    answer(report.change(*studies, fits), args.json)
    if out:
        try:
            report.write_change(args.before, args.after, out, pdf=args.pdf, fits=fits)
        except (report.NoBrowser, OSError) as error:
            raise StudyProblemsError(str(error)) from None
    return 0
