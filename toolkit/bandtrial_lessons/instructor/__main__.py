"""The instructor's tools: make a class of a roster, list its codes, show keys and truths, make the notebooks.

python -m bandtrial_lessons.instructor new-class ROSTER.csv CLASS.json [--title TITLE] [--due LESSON=TIME]
python -m bandtrial_lessons.instructor codes CLASS.json
python -m bandtrial_lessons.instructor key CLASS.json LESSON
python -m bandtrial_lessons.instructor truth FOLDER
python -m bandtrial_lessons.instructor notebooks notebooks/lessons toolkit/bandtrial_lessons/instructor/keys
"""

import argparse
import sys
from pathlib import Path


def main(words: list[str] | None = None) -> int:
    """Exit 0 done, 1 something is wrong with what was given, 2 wrong use."""
    parser = argparse.ArgumentParser(prog="python -m bandtrial_lessons.instructor", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)  # fmt: skip
    tools = parser.add_subparsers(dest="tool", required=True)
    new = tools.add_parser("new-class", help="a class file, with its secret, of a roster")
    new.add_argument("roster")
    new.add_argument("file")
    new.add_argument("--title", default="class")
    new.add_argument("--due", action="append", default=[], metavar="LESSON=TIME")
    for name, says in (("codes", "the code of each student, to hand out"), ("key", "expected answers of a lesson")):
        tools.add_parser(name, help=says).add_argument("file")
    tools.choices["key"].add_argument("lesson", type=int)
    tools.add_parser("truth", help="what lesson 4's settings truly cost, in words").add_argument("folder")
    notebooks = tools.add_parser("notebooks", help="make the instructors' notebooks")
    notebooks.add_argument("students")
    notebooks.add_argument("target")
    args = parser.parse_args(words)
    try:
        print(TOOLS[args.tool](args))
    except (ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    return 0


def make_class(args: argparse.Namespace) -> str:
    from bandtrial_lessons.instructor.classes import new_class, write_class

    due = dict(one.partition("=")[::2] for one in args.due)
    if Path(args.file).exists():
        raise ValueError(f"{args.file} is there already; another secret would be another class. Move it away first.")
    made = new_class(args.title, args.roster, due)
    write_class(made, args.file)
    return f"{len(made.students)} students; {args.file} holds the secret, keep it to yourself."


def codes(args: argparse.Namespace) -> str:
    from bandtrial_lessons.instructor.classes import codes_csv, read_class

    return codes_csv(read_class(args.file)).rstrip()


def show_key(args: argparse.Namespace) -> str:
    from bandtrial_lessons.instructor.classes import read_class
    from bandtrial_lessons.instructor.solutions import class_key

    a_class = read_class(args.file)
    names = {one.name: a_class.code(id) for id, one in a_class.students.items()}
    return str(class_key(args.lesson, list(names), "metric", names).to_string())


def truth(args: argparse.Namespace) -> str:
    from bandtrial_lessons.instructor.reveal import truths

    return "\n\n".join(truths(args.folder))


def notebooks(args: argparse.Namespace) -> str:
    from bandtrial_lessons.instructor.notebooks import write_all

    return "\n".join(str(file) for file in write_all(Path(args.students), Path(args.target)))


TOOLS = {"new-class": make_class, "codes": codes, "key": show_key, "truth": truth, "notebooks": notebooks}

if __name__ == "__main__":
    sys.exit(main())
