"""How far a long piece of work has got, said on a terminal once it lasts; Ctrl-C stops it."""

import sys
import time
from collections.abc import Callable
from typing import TextIO

PATIENCE = 2.0
"""Seconds before anything is said."""
EVERY = 0.5
"""Seconds between two words."""


class Progress:
    """Called with the share done and what is being done; writes one line over and over, and clears it at the end.

    Nothing is said in the first two seconds, nor where standard error is no terminal: what is piped stays clean.

    stream : where to, standard error if not given; clock : seconds, for tests
    """

    def __init__(self, what: str, stream: TextIO | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self.what, self.stream, self.clock = what, stream or sys.stderr, clock
        self.said = clock() + PATIENCE - EVERY
        self.width = 0

    def __call__(self, share: float, doing: str) -> None:
        now = self.clock()
        if now - self.said < EVERY or not self.stream.isatty():
            return
        self.said = now
        line = f"{self.what}: {100 * share:.0f} %, {doing} (Ctrl-C stops)"
        self.stream.write("\r" + line.ljust(self.width))
        self.stream.flush()
        self.width = len(line)

    def done(self) -> None:
        """Clear the line."""
        if self.width:
            self.stream.write("\r" + " " * self.width + "\r")
            self.stream.flush()
            self.width = 0
