"""Which rows the matrix has: each choice beside each other choice, in as few rows as a greedy search finds."""

import secrets
from collections.abc import Iterator
from dataclasses import astuple, dataclass, fields, replace
from itertools import combinations, cycle, product

HEAD = f"{'python':<7}{'dependencies':<13}{'core type':<11}{'loops':<12}{'order':<8}{'locale':<18}{'user':<7}"


@dataclass(frozen=True)
class Row:
    python: str
    dependencies: str
    core: str  # OPENBLAS_CORETYPE, "own" for what OpenBLAS finds itself
    loops: str  # NumPy's: all that the processor has, none wider than 256 bits, those of its baseline
    order: str  # "written", or a seed
    locale: str
    user: str

    def __str__(self) -> str:
        return (f"{self.python:<7}{self.dependencies:<13}{self.core:<11}{self.loops:<12}{self.order:<8}"
                f"{self.locale:<18}{self.user:<7}")  # fmt: skip

    def environment(self, loops: list[str]) -> dict[str, str]:
        """Variables of this row; `loops` are those that NumPy here chooses from."""
        wide = [name for name in loops if name.startswith("AVX512") or name == "X86_V4"]
        off = {"all": [], "256 bits": wide, "baseline": loops}[self.loops]
        found = {"LC_ALL": self.locale, "NPY_DISABLE_CPU_FEATURES": " ".join(off)}
        if self.core != "own":
            found["OPENBLAS_CORETYPE"] = self.core
        if self.order != "written":
            found |= {"TEST_ORDER": self.order, "PYTHONHASHSEED": self.order}
        return found


@dataclass
class Choices:
    """What each column of a row may be."""

    python: list[str]
    dependencies: list[str]
    core: list[str]
    loops: list[str]
    order: list[str]
    locale: list[str]
    user: list[str]
    old_core: list[str]  # those that the old OpenBLAS of the lowest NumPy may play here

    def allowed(self) -> Iterator[Row]:
        for values in product(*(getattr(self, field.name) for field in fields(Row))):
            row = Row(*values)
            if row.dependencies != "lowest" or row.core in self.old_core:
                yield row


def all_pairs(choices: Choices) -> list[Row]:
    """Rows in which every two choices that may stand together do so."""
    waiting = {row: pairs(row) for row in choices.allowed()}
    uncovered = set().union(*waiting.values())
    found = []
    while uncovered:
        best = max(waiting, key=lambda row: len(waiting[row] & uncovered))
        uncovered -= waiting.pop(best)
        found.append(best)
    return in_orders(found)


def pairs(row: Row) -> frozenset:
    return frozenset(combinations(enumerate(astuple(row)), 2))


def some(choices: Choices) -> list[Row]:
    """Each Python and each set of dependencies once, the other choices in turn."""
    number = max(len(choices.python), len(choices.dependencies))
    turn = {name: cycle(getattr(choices, name)) for name in ("python", "dependencies", "loops", "locale", "user")}
    core, old = cycle(reversed(choices.core)), cycle(choices.old_core)
    found = []
    for _ in range(number):
        values = {name: next(turn[name]) for name in turn}
        found.append(Row(**values, core=next(old if values["dependencies"] == "lowest" else core), order="random"))
    return in_orders(found)


def in_orders(found: list[Row]) -> list[Row]:
    """Give each random order its seed."""
    return [row if row.order == "written" else replace(row, order=str(secrets.randbelow(1_000_000))) for row in found]
