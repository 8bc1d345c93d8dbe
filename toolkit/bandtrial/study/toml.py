"""study.toml as keys that know their line: typed values out, problems with places in."""

import json
import re
import tomllib
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from bandtrial import units, words
from bandtrial.study.problems import Problems
from bandtrial.words import Nearest, near, printable, quoted

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


FILE = "study.toml"
DEEPEST = 20
"""Tables and lists within each other that are read; a study needs four."""
LONGEST = 1000
"""Bits of a whole number that are read."""
_PART = r"""(?:[\w-]++|"[^"\n]*"|'[^'\n]*')"""
_DEEP = re.compile(rf"(?<![\w-]){_PART}(?:[ \t]*+\.[ \t]*+{_PART}){{100}}")
"""A name of more than a hundred parts, `a.a.a...`: reading it takes time with the square of its length."""
_BEYOND = "is nested too deeply or holds a number too long to read"


def parse(text: str, problems: Problems) -> dict[str, Any] | None:
    """The document; None, with a problem, where it is no TOML."""
    try:
        deep = _DEEP.search(text)
        document = {} if deep else tomllib.loads(text.replace("\r\n", "\n"))
        beyond = _too_much(document)
        if not deep and not beyond:
            return document
        row = text.count("\n", 0, deep.start()) + 1 if deep else Lines(text).of(beyond[:-1], beyond[-1])
        problems.add("error", FILE, _BEYOND, row=row, column=".".join(map(printable, beyond)))
    except tomllib.TOMLDecodeError as error:
        found = re.match(r"(.*?)(?: \(at (?:line (\d+), column (\d+)|end of document)\))?$", str(error), re.S)
        line = int(found[2]) if found and found[2] else text.count("\n") + 1
        what = quoted(found[1] if found else error).strip('"')
        problems.add(
            "error", FILE, f'is not TOML from here on: {what}; texts need quotes, as in throat = "24 in"', row=line,
        )  # fmt: skip
    except (RecursionError, ValueError):
        problems.add("error", FILE, _BEYOND)
    return None


def _not_used(name: str, near: Nearest) -> str:
    return f"{quoted(name)} is not a name used here and is left alone{near(name)}"


def _too_much(document: dict[str, Any]) -> list[str]:
    """Where tables or lists are nested deeper than `DEEPEST`, or a number has more digits than can be written."""
    level: list[tuple[list[str], Any]] = [([], document)]
    for _ in range(DEEPEST):
        inner: list[tuple[list[str], Any]] = []
        for path, part in level:
            named = part.items() if isinstance(part, dict) else zip([""] * len(part), part, strict=True)
            inner += [([*path, name] if name and len(path) < 3 else path, one) for name, one in named]
        for path, one in inner:
            if isinstance(one, int) and one.bit_length() > LONGEST:
                return path
        level = [pair for pair in inner if isinstance(pair[1], dict | list)]
    return level[0][0] if level else []


class Table:
    """One table of the document, `[machines.saw1]`: its values read and checked one by one.

    Every reader gives None, with a problem, where the value is missing though needed or can't be read.
    """

    def __init__(self, values: Any, path: Sequence[str], lines: Lines, problems: Problems) -> None:
        self.path, self.lines, self.problems = list(path), lines, problems
        self.values: dict[str, Any] = values if isinstance(values, dict) else {}
        self.asked: list[str] = []
        if not isinstance(values, dict):
            self.problem("error", None, f"should be a table, [{'.'.join(path)}], not {quoted(values)}")

    def problem(self, severity: Any, name: str | None, message: str | Callable[[], str]) -> None:
        """A problem with the value `name` of this table; its wording is asked for where it is listed."""
        if not self.problems.room(severity, FILE):
            return
        parts = [*self.path, name] if name else self.path
        column = ".".join(part if len(part) <= 80 else printable(part) for part in parts)
        value = self.values.get(name, "") if name else ""
        words = message if isinstance(message, str) else message()
        plain = "" if isinstance(value, dict | list) else value
        self.problems.add(severity, FILE, words, row=self.lines.of(self.path, name), column=column, value=plain)

    def line(self) -> int | None:
        """Line of the table's head, where the text has it in plain form."""
        return self.lines.of(self.path, None)

    def text_of(self, name: str, default: str | None = None) -> str | None:
        """A text of the table; without a default it has to be there."""
        value = self._get(name, default is None)
        if value is None:
            return default
        if not isinstance(value, str):
            self.problem("error", name, f"should be a text in quotes, not {quoted(value)}")
            return default
        return value.strip()

    def choice(self, name: str, allowed: Sequence[str], default: str | None = None) -> str | None:
        """A text that has to be one of those allowed, in any case of letters."""
        value = self.text_of(name, default)
        if value is None or value in allowed:
            return value
        if value.casefold() in allowed:
            return value.casefold()
        self.problem("error", name, f"{quoted(value)} is not one of {', '.join(allowed)}{near(value, allowed)}")
        return default

    def quantity(
        self,
        name: str,
        kind: str,
        default: float | None = None,
        unit: str | None = None,
        low: float = 0.0,
        high: float = float("inf"),
        zero: bool = False,
    ) -> float | None:
        """A value in the inside unit of `kind`, above `low` (or equal, where `zero`) and at most `high`."""
        value = self._get(name, default is None)
        return default if value is None else self._read(name, value, kind, unit, low, high, zero)

    def pairs(self, name: str, kind: str, needed: bool = False) -> list[tuple[float, float]] | None:
        """A list of pairs of quantities, `[["15 m/min", "45 m/min"], ...]`; None where there is none."""
        value = self._get(name, needed)
        if value is None:
            return None
        pairs = [value] if isinstance(value, list) and len(value) == 2 and not isinstance(value[0], list) else value
        if not isinstance(pairs, list) or not pairs or not all(isinstance(p, list) and len(p) == 2 for p in pairs):
            self.problem("error", name, f'should be pairs, [["30 m/min", "60 m/min"]], not {quoted(value)}')
            return None
        read = [tuple(self._read(name, one, kind, None, 0.0, float("inf"), False) for one in pair) for pair in pairs]
        return None if any(one is None for pair in read for one in pair) else read  # type: ignore[return-value]

    def quantities(self, name: str, kind: str) -> list[float] | None:
        """A list of quantities, `["80 ft/min", "120 ft/min"]`; None where there is none."""
        value = self._get(name, False)
        if value is None:
            return None
        if not isinstance(value, list) or not value or any(isinstance(one, list | dict) for one in value):
            self.problem("error", name, f'should be a list, ["80 ft/min", "120 ft/min"], not {quoted(value)}')
            return None
        read = [self._read(name, one, kind, None, 0.0, float("inf"), False) for one in value]
        return None if any(one is None for one in read) else read  # type: ignore[return-value]

    def unknown(self) -> None:
        """Warn of every value that nothing asked for."""
        near = Nearest(self.asked)
        for name in self.values:
            if name not in self.asked:
                self.problem("warning", name, partial(_not_used, name, near))

    def attempt(self, name: str, action: Callable[[], Any]) -> Any:
        """action(), its UnitError or other ValueError as a problem with `name`."""
        try:
            return action()
        except ValueError as error:
            self.problem("error", name, str(error))
            return None

    def _get(self, name: str, needed: bool) -> Any:
        self.asked.append(name)
        if needed and self.values.get(name) is None:
            self.problem("error", name, "missing")
        return self.values.get(name)

    def _read(
        self, name: str, value: Any, kind: str, unit: str | None, low: float, high: float, zero: bool
    ) -> float | None:
        read = self.attempt(name, lambda: units.read(value, kind, unit))
        if read is None:
            return None
        if read < low or (read == low and not zero) or read > high:
            unit = units.KINDS[kind]
            span = f"{'at least' if zero else 'more than'} {words.shown(low)}"
            span += f" and at most {words.shown(high)}" if high < float("inf") else ""
            self.problem("error", name, f"{quoted(value)} can't be right; it should be {span} {unit}".rstrip())
            return None
        return float(read)
