"""Names written in another case, or as a thing is called instead of its id: the same thing, and said."""

from collections.abc import Iterable, Mapping

import numpy as np
import pandas as pd

from bandtrial.study.problems import Problems, folded
from bandtrial.study.typed import Sheet
from bandtrial.words import quoted


def same_names(
    sheet: Sheet, column: str, known: Iterable[str], problems: Problems, called: Mapping[str, str] | None = None
) -> None:
    """Enter the known name for each cell of a column that differs from it in case and blanks only, with a warning.

    called : id -> what people call it, which may stand for the id too, where it is one thing's alone
    """  # fmt: skip
    ids = set(known)
    cells = sheet.frame[column].to_numpy(object)
    codes, different = pd.factorize(cells)
    unknown = [n for n, name in enumerate(different) if name and name not in ids]
    if not unknown:
        return
    meant = _one_each([*((name, name) for name in ids), *((words, name) for name, words in (called or {}).items())])
    read = {n: meant[folded(different[n])] for n in unknown if folded(different[n]) in meant}
    if not read:
        return
    at = np.flatnonzero(np.isin(codes, list(read)))
    problems.each("warning", sheet.file, column, sheet.rows[at], [cells[at]],
                  lambda name: f"{quoted(name)} is read as {meant[folded(name)]}")  # fmt: skip
    for n, name in read.items():
        different[n] = name
    sheet.frame[column] = different[codes]


def _one_each(pairs: list[tuple[str, str]]) -> dict[str, str]:
    """Folded name -> id, those of one thing alone."""
    meant: dict[str, set[str]] = {}
    for words, name in pairs:
        meant.setdefault(folded(words), set()).add(name)
    return {words: next(iter(ids)) for words, ids in meant.items() if len(ids) == 1}
