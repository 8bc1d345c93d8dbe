"""Units: the one place where quantities are read, converted and written.

`registry`  the kinds of quantity, the unit spellings people use, factors to the inside unit
`numbers`   numbers as people type them: fractions, clock times, decimal commas
`reading`   one value, one column head, one column
`showing`   a quantity for people, its digits following its uncertainty
"""

from bandtrial.units.reading import convert, from_inside, head, read
from bandtrial.units.showing import plain_unit, show
from bandtrial.units.spelling import KINDS, UnitError, display_unit, factor, number, units_of

__all__ = [
    "KINDS",
    "UnitError",
    "convert",
    "display_unit",
    "factor",
    "from_inside",
    "head",
    "number",
    "plain_unit",
    "read",
    "show",
    "units_of",
]
