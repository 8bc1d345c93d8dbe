"""Answers as text or as strict JSON (no NaN, no infinity: null)."""

import json
import math
import re
from typing import Any


def plain(value: Any) -> Any:
    """`value` in the types that JSON knows; a number that is not finite becomes None.

    >>> plain({"life": float("nan"), "runs": (1, 2)})
    {'life': None, 'runs': [1, 2]}
    """
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set):
        return [plain(item) for item in value]
    if value is None or isinstance(value, str | bool | int):
        return value
    if hasattr(value, "tolist"):  # a numpy scalar or array
        return plain(value.tolist())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return str(value)  # a path, a date


def seen(text: str) -> str:
    """`text` for a terminal: what would steer it, from a name or a note in a study, as a mark.

    >>> seen("B1\\x1b[31m") == "B1\\ufffd[31m"
    True
    """
    return re.sub("[\\x00-\\x08\\x0b-\\x1f\\x7f-\\x9f\\u2028-\\u202e\\u2066-\\u2069]", "\ufffd", text)


def answer(result: Any, as_json: bool) -> None:
    """Print a result object: its `to_json()` as strict JSON, or its own words."""
    if as_json:
        result = json.dumps(plain(result.to_json()), indent=2, allow_nan=False, ensure_ascii=False)
    print(seen(str(result)))
