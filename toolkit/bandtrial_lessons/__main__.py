"""Grade a class: `python -m bandtrial_lessons FOLDER` prints one table of what was handed in."""

import argparse
import sys


def main(words: list[str] | None = None) -> int:
    """Exit 0 done, 1 nothing to grade, 2 wrong use."""
    parser = argparse.ArgumentParser(prog="python -m bandtrial_lessons", description=__doc__)
    parser.add_argument("folder", help="the folder that the answers were collected in, with those below it")
    parser.add_argument("--csv", metavar="FILE", help="write the table to a file as well")
    args = parser.parse_args(words)

    from bandtrial.disk import save

    from bandtrial_lessons.grading import grade

    try:
        table = grade(args.folder)
        if args.csv:
            save(args.csv, table.to_csv(index=False, lineterminator="\n"))
    except (ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    print(table.to_string(index=False))
    return 0


if __name__ == "__main__":
    sys.exit(main())
