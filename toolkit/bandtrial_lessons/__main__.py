"""Grade a class: `python -m bandtrial_lessons FOLDER` prints one table of what was handed in."""

import argparse
import sys
from pathlib import Path
from typing import Any

MISSING = (
    "Grading is the instructor's part, which the students' install does not have; run this where bandtrial was "
    "installed "
    "from its repository."
)


def main(words: list[str] | None = None) -> int:
    """Exit 0 done, 1 nothing to grade, 2 wrong use."""
    parser = argparse.ArgumentParser(prog="python -m bandtrial_lessons", description=__doc__)
    parser.add_argument("folder", help="the folder that the answers were collected in, with those below it")
    parser.add_argument("--class", dest="a_class", metavar="FILE", help="the class file: roster, codes, due times")
    parser.add_argument("--csv", metavar="FILE", help="write the table to a file as well")
    parser.add_argument("--points", metavar="FOLDER", help="write points_lesson_N.csv, numbers for a learning platform")
    parser.add_argument("--slips", metavar="FILE", help="write what the class got wrong, by question")
    parser.add_argument("--sentences", metavar="FILE", help="write what was said of predictions, to read")
    parser.add_argument("--toolkit", action="store_true", help="what the toolkit sets from each student's cuts, too")
    args = parser.parse_args(words)
    try:
        from bandtrial_lessons.instructor.classes import read_class
        from bandtrial_lessons.instructor.grading import graded_folder
        from bandtrial_lessons.instructor.tables import class_table
    except ModuleNotFoundError:
        print(MISSING, file=sys.stderr)
        return 1
    try:
        a_class = read_class(args.a_class) if args.a_class else None
        handed = graded_folder(args.folder, a_class, args.toolkit)
        table = class_table(handed, a_class)
        write_tables(args, handed, a_class, table)
    except (ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    told = table.loc[:, (table != "").any()].drop(columns="handed in", errors="ignore")  # all of it is for --csv
    print(told.to_string(index=False))
    return 0


def write_tables(args: argparse.Namespace, handed: Any, a_class: Any, table: Any) -> None:
    """The files that were asked for."""
    from bandtrial.disk import make_folder, save

    from bandtrial_lessons.instructor.tables import points_table, sentences_table, slips_table

    def write(path: Path, rows: Any) -> None:
        save(path, rows.to_csv(index=False, lineterminator="\n"))

    if args.csv:
        write(Path(args.csv), table)
    if args.slips:
        write(Path(args.slips), slips_table(handed))
    if args.sentences:
        write(Path(args.sentences), sentences_table(handed))
    if args.points:
        folder = make_folder(args.points)
        for lesson in sorted({one.lesson for one in handed if one.lesson}):
            write(folder / f"points_lesson_{lesson}.csv", points_table(handed, lesson, a_class))


if __name__ == "__main__":
    sys.exit(main())
