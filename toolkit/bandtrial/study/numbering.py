"""Numbers of cuts: any text may be one; those that are plain numbers are counted on from."""

import re


def as_count(number: str) -> int:
    """The number of a cut as a count, 0 where it is none or one of more than 15 digits, which nobody counts on from.

    >>> as_count("12"), as_count("A7"), as_count("9" * 16)
    (12, 0, 0)
    """
    return int(number) if re.fullmatch(r"\d{1,15}", number) else 0
