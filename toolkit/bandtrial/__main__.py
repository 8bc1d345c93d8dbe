"""The `bandtrial` command: one word for each question a study answers.

Exit 0 done, 1 the study has problems (or the program failed), 2 wrong use. Answers go to standard output,
problems to standard error, in sentences: also that a disk is full behind `>`. A traceback is shown only where
BANDTRIAL_DEBUG=1 asks for it.
"""

import argparse
import errno
import os
import sys
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import Any

from bandtrial import __version__, commands
from bandtrial.commands.options import StudyProblemsError, WrongUseError, seen
from bandtrial.disk import why

DONE, PROBLEMS, WRONG_USE, STOPPED = 0, 1, 2, 130


class StreamRefusedError(Exception):
    """Standard output or error took no more of an answer. No OSError, so that nobody takes it for one of a file."""

    def __init__(self, stream: "_Watched", error: OSError) -> None:
        self.stream, self.error = stream, error
        super().__init__(str(error))

    def exit_code(self) -> int:
        """End the stream in nothing, say why where that can be said, and give the exit code."""
        self.stream.to_nowhere()
        if _reader_has_gone(self.error):
            return DONE
        if self.stream is sys.stdout:
            try:
                print(f"bandtrial: standard output can't be written: {why(self.error)}", file=sys.stderr, flush=True)
            except StreamRefusedError as neither:
                neither.stream.to_nowhere()
        return PROBLEMS


class _Watched:
    """A text stream whose refusals are StreamRefusedError."""

    def __init__(self, stream: Any) -> None:
        self.inner = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self.inner, name)

    def write(self, text: str) -> int:
        try:
            return int(self.inner.write(text))
        except OSError as error:
            raise StreamRefusedError(self, error) from None

    def flush(self) -> None:
        try:
            self.inner.flush()
        except OSError as error:
            raise StreamRefusedError(self, error) from None

    def to_nowhere(self) -> None:
        """Let what is still held back end in nothing, so that Python has nothing to complain of at its end."""
        with suppress(OSError, ValueError):  # ValueError: no stream of the system's, as in a notebook
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, self.inner.fileno())
            os.close(nowhere)


def _reader_has_gone(error: OSError) -> bool:
    """As in `bandtrial check STUDY | head`; Windows calls it an invalid argument."""
    return isinstance(error, BrokenPipeError) or (os.name == "nt" and error.errno == errno.EINVAL)


@contextmanager
def watched() -> Iterator[None]:
    """Standard output and error that tell of their refusals, lead somewhere, and show what a terminal lacks as ?"""
    before = sys.stdout, sys.stderr
    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        for stream in before:
            if hasattr(stream, "reconfigure"):
                stream.reconfigure(errors="replace")  # a terminal that has no micro sign still gets its answer
        # a stream that who called has closed, as in `>&-`, is None
        sys.stdout, sys.stderr = (_Watched(nowhere if stream is None else stream) for stream in before)
        try:
            yield
        finally:
            sys.stdout, sys.stderr = before


def flushed(code: int) -> int:
    """`code`, once all that was said is out."""
    sys.stdout.flush()
    sys.stderr.flush()
    return code


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
    with watched():
        try:
            return flushed(_said(argv))
        except StreamRefusedError as refused:
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
    except StreamRefusedError:
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
