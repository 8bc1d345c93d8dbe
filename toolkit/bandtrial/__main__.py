"""The `bandtrial` command: one word for each question a study answers.

Exit 0 done, 1 the study has problems (or the program failed), 2 wrong use. Answers go to standard output,
problems to standard error, in sentences; a traceback is shown only where BANDTRIAL_DEBUG=1 asks for it.
"""

import argparse
import os
import sys
import warnings
from collections.abc import Sequence

from bandtrial import __version__, commands
from bandtrial.commands import streams
from bandtrial.commands.options import StudyProblemsError, WrongUseError, seen

DONE, PROBLEMS, WRONG_USE, STOPPED = 0, 1, 2, 130


def parser() -> argparse.ArgumentParser:
    """The command line of DESIGN section 7; building it imports no model, no table and no plot."""
    top = argparse.ArgumentParser(
        prog="bandtrial",
        description="Trial cuts on metal-cutting band machines: log them, fit cutting rate and blade wear, "
        "recommend speed, feed and change-out.",
        epilog="Exit 0 done, 1 the study has problems (on standard error), 2 wrong use.",
        allow_abbrev=False,
    )
    top.add_argument("--version", action="version", version=f"bandtrial {__version__}")
    sub = top.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for command in commands.ALL:
        one = sub.add_parser(command.name, help=command.help, description=command.help + ".", allow_abbrev=False)
        command.arguments(one)
        one.set_defaults(run=command.run)
    return top


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; never raises, never prints a traceback unasked."""
    for library in ("OPENBLAS", "MKL", "OMP"):  # before numpy: matrices are small, threads would wait for each other
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")
    with streams.watched():
        try:
            return streams.flushed(_said(argv))
        except streams.StreamRefusedError as refused:
            return refused.exit_code()


def _said(argv: Sequence[str] | None) -> int:
    """Run one command, or say why it was not run; its exit code."""
    try:
        args = parser().parse_args(argv)
    except SystemExit as leaving:  # argparse has printed its help, its version or what was wrong
        return int(leaving.code or DONE)
    if os.environ.get("BANDTRIAL_DEBUG") == "1":
        return _run(args)
    try:
        with warnings.catch_warnings():
            if not any(rule[0] == "error" for rule in warnings.filters):  # as in the tests, where they are faults
                warnings.simplefilter("ignore")  # a library's remark on numbers is none that a user can act on
            return _run(args)
    except streams.StreamRefusedError:
        raise
    except KeyboardInterrupt:
        print("bandtrial: stopped", file=sys.stderr)
        return STOPPED
    except Exception as error:  # the one place that may not know what went wrong
        print(seen(_failed(args.command, error)), file=sys.stderr)
        return PROBLEMS


def _run(args: argparse.Namespace) -> int:
    try:
        return int(args.run(args) or DONE)
    except WrongUseError as error:
        print(seen(f"bandtrial {args.command}: {error}"), file=sys.stderr)
        return WRONG_USE
    except StudyProblemsError as error:
        print(seen(str(error)), file=sys.stderr)
        return PROBLEMS


def _failed(command: str, error: Exception) -> str:
    what = " ".join(str(error).split()) or "no message"
    return (
        f"bandtrial {command}: this is a fault in bandtrial {__version__}, not in your study "
        f"({type(error).__name__}: {what}); please report it, "
        "with what the same command prints under BANDTRIAL_DEBUG=1"
    )


if __name__ == "__main__":
    sys.exit(main())
