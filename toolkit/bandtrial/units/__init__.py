"""Units: the one place where quantities are read, converted and written.

`spelling`  how numbers and units are written, the kinds of quantity, factors to the inside unit
`values`    one value, one column head, one column; a quantity for people, its digits following its uncertainty
"""

from bandtrial.units.spelling import KINDS, UnitError, display_unit, factor, number, units_of
from bandtrial.units.values import convert, from_inside, head, plain_unit, read, show

__all__ = [
    "KINDS", "UnitError", "convert", "display_unit", "factor", "from_inside", "head", "number", "plain_unit", "read",
    "show", "units_of",
]  # fmt: skip
