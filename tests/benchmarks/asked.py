"""The command asked as a user would, in this process: its exit code, its JSON and its words."""

from __future__ import annotations

import contextlib
import io
import json
import os
from dataclasses import dataclass
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy: small matrices, one core

from bandtrial.__main__ import main


@dataclass(frozen=True)
class Answer:
    """What a command left: exit code, standard output as JSON (None where it is none), standard error."""

    code: int
    json: Any
    words: str

    @property
    def crashed(self) -> bool:
        """Whether the program, not the study, was at fault."""
        return "this is a fault in bandtrial" in self.words


def ask(*words: object) -> Answer:
    """`bandtrial WORDS --json`; its answer."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([*map(str, words), "--json"])
    try:
        found = json.loads(out.getvalue())
    except ValueError:
        found = None
    return Answer(code, found, err.getvalue().strip())
