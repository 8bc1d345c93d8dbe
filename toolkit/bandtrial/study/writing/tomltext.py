"""study.toml as a text to be changed in place: a value, a table; comments, order and all other lines stay."""

import json
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from bandtrial.study.problems import refuse
from bandtrial.study.toml import FILE, Lines

Path = tuple[str, ...]


def with_table(text: str, path: Path, values: Mapping[str, Any]) -> str:
    """The text with these values in a table, `("machines", "saw1")`, which is made where there is none.

    values : name -> text, number or list of them; None takes the value out, as a comment
    SaveError where that can't be done line by line.
    """
    newline = "\r\n" if "\r\n" in text else "\n"
    wanted = _document(text)
    lines = text.replace("\r\n", "\n").split("\n")
    if path not in Lines("\n".join(lines)).heads:
        if _at(wanted, path) is not None:
            raise _by_hand(path)
        lines = _with_head(lines, path)
    for name, value in values.items():
        lines = _with_value(lines, path, name, value)
    made = newline.join(lines)
    table = wanted
    for part in path:
        table = table.setdefault(part, {})
    table.update(values)
    for name in [name for name, value in values.items() if value is None]:
        del table[name]
    if _document(made) != wanted:  # written in a form of its own, as inline tables are
        raise _by_hand(path)
    return made


def literal(value: Any) -> str:
    """A value as TOML has it.

    >>> literal('3/4"'), literal([["50 ft/min", "160 ft/min"]]), literal(48.0)
    ('"3/4\\\\""', '[["50 ft/min", "160 ft/min"]]', '48')
    """
    if isinstance(value, list):
        return f"[{', '.join(map(literal, value))}]"
    if isinstance(value, float):
        return f"{value:.0f}" if value.is_integer() and abs(value) < 1e15 else repr(value)
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def head(path: Iterable[str]) -> str:
    """The head of a table.

    >>> head(("machines", "saw 1"))
    '[machines."saw 1"]'
    """
    return f"[{'.'.join(part if re.fullmatch(r'[A-Za-z0-9_-]+', part) else literal(part) for part in path)}]"


def _with_head(lines: list[str], path: Path) -> list[str]:
    """With the head of a new table: behind the last of its kind, else behind the example of one, else at the end."""
    heads = Lines("\n".join(lines)).heads
    of_kind = [n for name, n in heads.items() if len(path) > 1 and name[:1] == path[:1] and len(name) > 1]
    example = next((n for n, line in enumerate(lines, 1) if line.startswith(f"# [{path[0]}.")), 0)
    at = max(of_kind, default=example)
    if not at:
        bare = [*lines[:-1]] if lines[-1] == "" else lines
        return [*bare, *([""] if bare and bare[-1] else []), head(path), ""]
    while at < len(lines) and lines[at].strip() and not lines[at].lstrip().startswith("["):
        at += 1
    return [*lines[:at], "", head(path), *(lines[at:] or [""])]


def _with_value(lines: list[str], path: Path, name: str, value: Any) -> list[str]:
    begin = Lines("\n".join(lines)).heads[path]
    end = next(
        (n for n in range(begin, len(lines)) if re.match(r"\s*\[\[?[^\[\],]+\]\]?\s*(#|$)", lines[n])), len(lines)
    )
    span = _span(lines[begin:end], name)
    if span:
        first, last = begin + span[0], begin + span[1]
        if value is None:
            return [*lines[:first], *("# " + line for line in lines[first:last]), *lines[last:]]
        tail = _comment("\n".join(lines[first:last]))
        return [*lines[:first], f"{name} = {literal(value)}{tail}", *lines[last:]]
    if value is None:
        return lines
    example = re.compile(rf"#\s*{re.escape(name)}\s*=")
    for n in range(begin, end):
        if example.match(lines[n]):
            return [*lines[:n], f"{name} = {literal(value)}{_comment(lines[n][1:].lstrip())}", *lines[n + 1 :]]
        if lines[n].startswith("# ["):
            break
    last = begin
    for n in range(begin, end):
        if lines[n].strip() and not lines[n].lstrip().startswith("#"):
            last = n + 1
        if not lines[n].strip() and last > begin:
            break
    return [*lines[:last], f"{name} = {literal(value)}", *lines[last:]]


def _span(lines: Sequence[str], name: str) -> tuple[int, int] | None:
    """First and last line + 1 of a value of a table; None where it has no line of its own."""
    for first, line in enumerate(lines):
        if re.match(rf"\s*(?:{re.escape(name)}|{re.escape(literal(name))})\s*=", line):
            for last in range(first + 1, len(lines) + 1):
                if _readable("\n".join(lines[first:last])):
                    return first, last
    return None


def _comment(line: str) -> str:
    """The comment behind a value, with the blanks before it."""
    for found in re.finditer(r"\s*#", line):
        if _readable(line[: found.start()]):
            return line[found.start() :]
    return ""


def _readable(text: str) -> bool:
    try:
        return bool(tomllib.loads(text))
    except (tomllib.TOMLDecodeError, RecursionError):
        return False


def _document(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text.replace("\r\n", "\n"))
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        raise refuse(FILE, "is not TOML as it stands; mend that first (bandtrial check shows where), nothing was "
                     "changed") from None  # fmt: skip


def _at(document: Any, path: Path) -> Any:
    for part in path:
        document = document.get(part) if isinstance(document, dict) else None
    return document


def _by_hand(path: Path) -> Exception:
    return refuse(FILE, f"has {'.'.join(path)} in a form that can't be changed from here; change it in the file")
