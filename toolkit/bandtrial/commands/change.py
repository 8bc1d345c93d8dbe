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
    parser.add_argument("--matters", default="3%", metavar="SHARE", help="a smaller change is none; 3%% unless said")
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    if args.pdf and not args.out:
        raise WrongUseError("--pdf: it is a PDF of the page; say where the page goes, as -o change.html --pdf")
    out = page_file(args.out) if args.out else None
    matters = _share(args.matters)
    studies = open_study(args.before), open_study(args.after)
    from bandtrial import recommend, report

    fits = tuple(fitted(study) for study in studies)
    try:
        found = report.change(*studies, fits, matters=matters)
    except recommend.NotYet as no:
        raise StudyProblemsError(str(no)) from None
    answer(found, args.json)
    if out:
        try:
            report.write_change(args.before, args.after, out, pdf=args.pdf, found=found)
        except (report.NoBrowser, OSError) as error:
            raise StudyProblemsError(str(error)) from None
    return 0


def _share(text: str) -> float:
    """A share of change, as 3% or 3 %."""
    try:
        value = float(text.strip().removesuffix("%")) / 100
    except ValueError:
        value = float("nan")
    if not 0 <= value < 1:
        raise WrongUseError(f"--matters: '{text}' is not a share of 0 % to 100 %, as 3%")
    return value
