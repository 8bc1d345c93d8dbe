"""The one type of this package: a number, or an array that broadcasts with the other arguments."""

from typing import Any, TypeAlias

Numbers: TypeAlias = Any
