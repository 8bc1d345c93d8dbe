"""Every problem of a study, at once: file, row, column, value, what is allowed."""

import argparse
import sys

from bandtrial.commands.options import existing_folder, study_argument


def arguments(parser: argparse.ArgumentParser) -> None:
    study_argument(parser)


def run(args: argparse.Namespace) -> int:
    folder = existing_folder(args.study)
    from bandtrial import study

    problems = study.check(folder)
    errors = [problem for problem in problems if problem.severity == "error"]
    for problem in problems:
        print(problem, file=sys.stderr)
    asked = sum(problem.severity == "question" for problem in problems)
    counts = [_count(len(errors), "error"), _count(len(problems) - len(errors) - asked, "warning")]
    print(f"{args.study}: {', '.join([*counts, *([_count(asked, 'question')] if asked else [])])}")
    return 1 if errors else 0


def _count(n: int, word: str) -> str:
    return f"{n or 'no'} {word}{'' if n == 1 else 's'}"
