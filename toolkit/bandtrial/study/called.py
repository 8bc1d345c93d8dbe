"""What people call the columns of cuts at the head of their own tables, and the units they put there."""

import difflib
import re
from collections.abc import Mapping, Sequence

from bandtrial import units
from bandtrial.study.columns import COLUMNS, CUTS, key

ALSO_CALLED = {
    "cut": "no number cut_no cut_number nr id",
    "started": "date time_stamp datetime start when date_time day",
    "machine": "saw machine_no saw_no",
    "band": "blade band_no blade_no band_number blade_id",
    "material": "grade alloy stock_material matl metal mat",
    "section": "shape profile",
    "work_thickness": "thickness height plate_thickness thick thk material_thickness",
    "cut_travel": "travel length cut_length length_of_cut width depth distance",
    "diameter": "dia od round outside_diameter",
    "wall": "wall_thickness",
    "cut_area": "area sawn_area cross_section square_inches",
    "stacked": "stack pieces_per_cut per_cut bundle",
    "band_speed": "speed blade_speed dial indicated_speed surface_speed surface_feet cutting_speed",
    "feed_rate": "feed",
    "feed_force": "force weight feed_weight pressure load",
    "cut_time": "time minutes seconds duration cutting_time time_of_cut cut_duration elapsed",
    "coolant": "fluid cutting_fluid cooling",
    "motor_power": "power",
    "deviation": "out_of_square error runout drift off_square",
    "roughness": "ra finish surface_finish",
    "pieces": "qty quantity count pcs parts",
    "complete": "finished done",
    "rewelded": "rewelding welded",
    "exclude": "leave_out skip",
    "note": "notes remark remarks comment comments",
}
_CALLED = {key(word): name for name, words in ALSO_CALLED.items() for word in words.split()}
_UNIT_ALONE = {
    "sfpm": "band_speed", "sfm": "band_speed", "fpm": "band_speed", "ft/min": "band_speed", "m/min": "band_speed",
    "ipm": "feed_rate", "in/min": "feed_rate", "mm/min": "feed_rate", "lbs": "feed_force", "lbf": "feed_force",
    "hp": "motor_power", "kw": "motor_power", "watts": "motor_power", "sec": "cut_time", "secs": "cut_time",
    "min": "cut_time", "mins": "cut_time", "minutes": "cut_time", "seconds": "cut_time", "sq in": "cut_area",
    "in2": "cut_area", "cm2": "cut_area",
}  # fmt: skip
"""Units that stand for their column when they are all of a head."""
_UNIT_BEHIND = re.compile(r"(.+?)[\s,_]+(?:in |per )?(sq\.? ?in\.?|[A-Za-z\"']+(?:[/^][A-Za-z0-9]+)?[²2]?\.?)")
_TITLES = 12
"""Rows at the top of a table among which its head is looked for."""


def match(heads: Sequence[str]) -> list[str | None]:
    """For each head the column of cuts it means, None where it means none; each column once.

    >>> match(["Blade", "Thickness (in)", "band speed [ft/min]", "Operator", "SFPM", "Weight lbs", "Length of cut"])
    ['band', 'work_thickness', 'band_speed', None, None, 'feed_force', 'cut_travel']
    """
    known = {key(column.name): column.name for column in CUTS}
    names = [key(head_parts(head)[0]) for head in heads]
    taken: dict[int, str] = {}
    for meaning in (known.get, _CALLED.get, lambda name: _near(name, known)):
        for n, name in enumerate(names):
            column = meaning(name) if n not in taken and name else None
            if column and column not in taken.values():
                taken[n] = column
    return [taken.get(n) for n in range(len(heads))]


def head_parts(head: str) -> tuple[str, str | None]:
    """Name and unit of a head, the unit in brackets, behind the name, or alone.

    >>> head_parts("Weight lbs"), head_parts("SFPM"), head_parts("Cut time, min."), head_parts("Thickness (in)")
    (('weight', 'lbs'), ('band_speed', 'SFPM'), ('cut_time', 'min.'), ('thickness', 'in'))
    """
    name, unit = units.head(head)
    if unit:
        return name, unit
    bare = " ".join(head.split()).strip(" .:")
    if bare.casefold() in _UNIT_ALONE:
        return _UNIT_ALONE[bare.casefold()], bare
    found = _UNIT_BEHIND.fullmatch(head.strip())
    column = found and _meant(found[1])
    if found and column and COLUMNS[column].is_quantity and _is_unit(found[2], COLUMNS[column].kind):
        return units.head(found[1].rstrip(", "))[0], found[2]
    return name, None


def _meant(name: str) -> str | None:
    word = key(units.head(name.rstrip(", "))[0])
    return {key(column.name): column.name for column in CUTS}.get(word) or _CALLED.get(word)


def _is_unit(text: str, kind: str) -> bool:
    try:
        units.convert(1.0, text, kind)
    except units.UnitError:
        return False
    return True


def _near(name: str, known: Mapping[str, str]) -> str | None:
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.87)
    return known[close[0]] if close else None


def head_among(rows: Sequence[Sequence[str]]) -> int:
    """Which of the first rows of a table is its head: the one that names most columns, the first where none names two.

    >>> head_among([["Cuts of March"], [], ["Blade", "Thickness", "Time"], ["B1", "2", "30"]])
    2
    """
    named = [sum(column is not None for column in match(row)) for row in rows[:_TITLES]]
    return named.index(max(named)) if named and max(named) >= 2 else 0
