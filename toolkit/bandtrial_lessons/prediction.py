"""A prediction: what a student says before a picture opens, and has to explain afterwards."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Prediction:
    """text: what is asked; choices: words to choose from; opens: makes what is shown then; came: how it came out,
    one of the choices; why: what to explain."""

    id: str
    text: str
    choices: tuple[str, ...]
    opens: Callable[[], Any]
    came: str
    why: str
