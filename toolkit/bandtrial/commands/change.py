"""Two studies compared, as before and after a new coolant, band or bar supplier: what changed, and how sure."""

import argparse

from bandtrial.commands.errors import StudyProblemsError, WrongUseError
from bandtrial.commands.options import fitted, json_argument, open_study, page_file
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
    out = page_file(args.out) if args.out else None
    studies = open_study(args.before), open_study(args.after)
    from bandtrial import report

    found = report.change(*studies, tuple(fitted(study) for study in studies))
    answer(found, args.json)
    if out:
        try:
            report.write_change(args.before, args.after, out, pdf=args.pdf, found=found)
        except (report.NoBrowser, OSError) as error:
            raise StudyProblemsError(str(error)) from None
    return 0
