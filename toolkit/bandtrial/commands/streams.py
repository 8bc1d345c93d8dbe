"""Standard output and error of a command: a reader that has gone, a full disk behind `>`, no stream at all."""

import errno
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

from bandtrial.disk import why

DONE, NOT_WRITTEN = 0, 1


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
        return NOT_WRITTEN


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
