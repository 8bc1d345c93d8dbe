"""Equal cells of a long table kept once: most columns of a log say the same few things over and over."""

import sys

import numpy as np
import pandas as pd

FEW = 20_000
"""Different cells of a column that are remembered; a column of numbers of cuts has no two alike."""


class Shared:
    """The different cells met so far, by column; `size` is what they take in memory [bytes]."""

    def __init__(self) -> None:
        self.known: dict[int, dict[object, object]] = {}
        self.size = 0

    def texts(self, column: int, cells: np.ndarray) -> np.ndarray:
        """Cells (n,) of a column, texts, with one object for all that are equal, as far as remembered."""
        known = self.known.setdefault(column, {})
        codes, different = pd.factorize(cells)
        for n, cell in enumerate(different):
            if (kept := known.get(cell)) is None:
                kept = cell
                self.size += sys.getsizeof(cell)
                if len(known) < FEW:
                    known[cell] = cell
            different[n] = kept
        return different[codes]
