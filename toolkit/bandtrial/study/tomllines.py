"""Where the tables and values of study.toml stand: one pass over its lines, looked up as often as needed."""

import json
import re
from collections.abc import Sequence

_NAME = r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*')"""
_DOTTED = rf"{_NAME}(?:[ \t]*\.[ \t]*{_NAME})*"
_HEAD = re.compile(rf"[ \t]*(\[\[?)[ \t]*({_DOTTED})[ \t]*\]")
_VALUE = re.compile(rf"[ \t]*({_DOTTED})[ \t]*=")
_ONE = re.compile(_NAME)
_LONG = re.compile(r'"""|' + "'''")

Path = tuple[str, ...]


class Lines:
    """The line of each table's head and of each value, as far as the text has them in plain form."""

    def __init__(self, text: str) -> None:
        self.heads: dict[Path, int] = {}
        self.values: dict[tuple[Path, str], int] = {}
        self._read(text)

    def of(self, path: Sequence[str], name: str | None) -> int | None:
        """Line of the value `name` of a table, or else of the table's head; None where the text has neither."""
        at = tuple(path)
        head = self.heads.get(at) if at else None
        if not name or (at and head is None):
            return head
        return self.values.get((at, name)) or self.heads.get((*at, name)) or head

    def _read(self, text: str) -> None:
        here: Path = ()
        until = ""  # the quotes that end a text of several lines
        for n, line in enumerate(text.split("\n"), start=1):
            if until:
                until = "" if until in line else until
                continue
            if head := _HEAD.match(line):
                here = _parts(head[2])
                self.heads.setdefault(here, n)
                self.values.setdefault(((), here[0]), n)
            elif value := _VALUE.match(line):
                self.values.setdefault((here, _parts(value[1])[0]), n)
                opened = _LONG.findall(line.partition("=")[2])
                until = opened[0] if len(opened) == 1 else ""


def _parts(dotted: str) -> Path:
    """The names in `a."b c".d`."""
    return tuple(map(_plain, _ONE.findall(dotted)))


def _plain(part: str) -> str:
    try:
        return str(json.loads(part)) if part[0] == '"' else part.strip("'")
    except ValueError:  # an escape that only TOML has
        return part[1:-1]
