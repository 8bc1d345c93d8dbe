"""What study.toml says: machines, band stock, materials, costs."""

import re
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from bandtrial.published.materials import find, near_names
from bandtrial.published.own_starts import NO_GROUP, own_name
from bandtrial.published.tables import PublishedError
from bandtrial.sawing import EDGES, SETS, TOOTH_FORMS
from bandtrial.study.model import NOT_GIVEN, BandStock, Machine, Material
from bandtrial.study.problems import Problems, folded, unfit_name
from bandtrial.study.toml import Lines, Table
from bandtrial.words import quoted

NO_GROUP_WORDS = ("", "none", "no", "other", "unknown", "-", "n/a")
"""What people write where no published group fits."""
LEVELS = {
    "change_at_motor_power": ("motor_power", "power", 1e6),
    "change_at_feed_force": ("feed_force", "force", 1e6),
    "change_at_deviation": ("deviation", "length", 1e3),
    "change_at_roughness": ("roughness", "roughness", 1e4),
    "change_at_time_ratio": ("cut_time", "number", 100.0),
}
"""A level at which a shop takes bands off, of a machine or a band stock: the reading, its kind, the most that can be.
For the time of a piece: that over a new band's."""
WIDE = 6
"""Whole mm from tooth to tooth from which it is asked whether teeth per inch are meant."""
MOST_HOURS = 25.0
"""Hours of machine and labor that a band may cost before it is asked about; the dearest carbide ones cost about 10."""
_TABLES = ("study", "costs", "machines", "band_stock", "materials")


@dataclass(frozen=True)
class Settings:
    """study.toml, read. A machine, band stock or material that has a fault is named in `faulty` instead."""

    info: dict[str, Any] = field(default_factory=dict)
    costs: dict[str, float] = field(default_factory=dict)
    machines: dict[str, Machine] = field(default_factory=dict)
    band_stock: dict[str, BandStock] = field(default_factory=dict)
    materials: dict[str, Material] = field(default_factory=dict)
    faulty: frozenset[str] = frozenset()
    undecided: dict[str, int | None] = field(default_factory=dict)
    """Materials of which nothing says how fast to begin, and their lines."""
    all_machines: tuple[str, ...] = ()
    """Names of the machines, faulty ones too."""

    @property
    def one_speed(self) -> bool:
        """Whether each machine has a single band speed."""
        return bool(self.machines) and all(one.only_speed == one.only_speed for one in self.machines.values())


def settings(document: dict[str, Any], text: str, problems: Problems) -> Settings:
    """Settings of a study.toml document; everything wrong with it is added to `problems`."""
    lines = Lines(text)
    root = Table(document, [], lines, problems)
    root.asked.extend(_TABLES)
    root.unknown()

    def table(*path: str) -> Table:
        values: Any = document
        for part in path:
            values = values.get(part, {}) if isinstance(values, dict) else {}
        return Table(values, path, lines, problems)

    faulty: set[str] = set()

    def every(kind: str, read: Any) -> dict[str, Any]:
        group = table(kind)
        if not group.values:
            group.problem("error", None, f"missing; a study needs at least one [{kind}.NAME]")
        for name in group.values:
            if unfit := unfit_name(name):
                group.problem("error", None, unfit)
        alike: dict[str, str] = {}
        for name in group.values:
            if (other := alike.setdefault(folded(name), name)) != name:
                words = f"{quoted(other)} and {quoted(name)} differ in case or blanks only; if they are one, keep one"
                table(kind, name).problem("warning", None, words)
        made = {name: read(name, table(kind, name)) for name in group.values}
        faulty.update(name for name, one in made.items() if one is None)
        return {name: one for name, one in made.items() if one is not None}

    info, costs = _info(table("study")), _costs(table("costs"))
    machines, band_stock = every("machines", _machine), every("band_stock", _band_stock)
    materials = every("materials", _material)
    for name, stock in band_stock.items():
        _hours_of_a_band(table("band_stock", name), stock.price, costs.get("machine_and_labor_per_hour"))
    undecided = {name: table("materials", name).line() for name, one in materials.items() if find(one.group).is_unknown}
    return Settings(info, costs, machines, band_stock, materials, frozenset(faulty), undecided,
                    tuple(table("machines").values))  # fmt: skip


def _info(table: Table) -> dict[str, Any]:
    info = {name: table.text_of(name, "") for name in ("name", "question", "currency", "author", "safety_notes")}
    info["units"] = table.choice("units", ("us", "metric"), "metric")
    table.unknown()
    return {**table.values, **info}


def _costs(table: Table) -> dict[str, float]:
    costs = {
        "machine_and_labor_per_hour": table.quantity("machine_and_labor_per_hour", "money", high=1e9),
        "band_change_minutes": table.quantity("band_change_minutes", "time", unit="min", high=10_000, zero=True),
        "scrapped_piece": table.quantity("scrapped_piece", "money", high=1e12, zero=True),
        "work_ahead": table.quantity("work_ahead", "area", NOT_GIVEN, high=1e15),
    }
    table.unknown()
    return {name: value for name, value in costs.items() if value is not None and value == value}


def _machine(name: str, table: Table) -> Machine | None:
    before = table.problems.failed
    kind = table.choice("kind", ("vertical", "horizontal"))
    feed = table.choice("feed", ("rate", "force", "hand"))
    steps = tuple(sorted(table.quantities("band_speeds", "speed") or []))
    ranges = _ranges(table, steps)
    band_length = table.quantity("band_length", "length", low=200, high=30_000)
    lengths = {key: table.quantity(key, "length", NOT_GIVEN, high=100_000) for key in ("wheel_diameter", "throat")}
    power = table.quantity("motor_power", "power", NOT_GIVEN, high=1e6)
    efficiency = table.quantity("drive_efficiency", "number", 0.8, high=1.0)
    feeds = {
        key: _range(table, key, of) for key, of in (("feed_rate_range", "feed_rate"), ("feed_force_range", "force"))
    }
    check, levels = _speed_check(table), _levels(table)
    table.unknown()
    if table.problems.failed > before:
        return None
    return Machine(
        name, str(kind), str(feed), ranges, _known(band_length), _known(lengths["wheel_diameter"]), _known(power),
        _known(efficiency), _known(lengths["throat"]), feeds["feed_rate_range"], feeds["feed_force_range"], check,
        steps, levels,
    )  # fmt: skip


def _levels(table: Table) -> tuple[tuple[str, float], ...]:
    found = ((reading, table.quantity(key, of, NOT_GIVEN, high=most)) for key, (reading, of, most) in LEVELS.items())
    return tuple((reading, value) for reading, value in found if value is not None and value == value)


def _ranges(table: Table, steps: tuple[float, ...]) -> tuple[tuple[float, float], ...]:
    """The ranges of the dial; of a machine with steps each of them, a range without width."""
    if steps or table.values.get("band_speeds") is not None:
        table.asked.append("band_speed_ranges")
        if table.values.get("band_speed_ranges") is not None:
            table.problem("warning", "band_speed_ranges", "stands beside band_speeds, which are used; delete one")
        return tuple((V, V) for V in dict.fromkeys(steps))
    ranges = sorted(table.pairs("band_speed_ranges", "speed", needed=True) or [])
    for low, high in ranges:
        if low > high or high > 10_000:
            table.problem(
                "error",
                "band_speed_ranges",
                "each range goes from its least speed to its greatest, at most 10000 m/min",
            )
            break
    return tuple(ranges)


def _range(table: Table, name: str, kind: str) -> tuple[float, float] | None:
    pairs = table.pairs(name, kind)
    if not pairs:
        return None
    if len(pairs) > 1 or pairs[0][0] > pairs[0][1]:
        table.problem("error", name, 'should be one pair, least and greatest, as in ["1 in/min", "30 in/min"]')
        return None
    return pairs[0]


def _speed_check(table: Table) -> tuple[tuple[float, float], ...]:
    points = sorted(table.pairs("speed_check", "speed") or [])
    for (dial, measured), (next_dial, next_measured) in pairwise(points):
        if next_dial == dial or next_measured <= measured:
            table.problem(
                "error",
                "speed_check",
                "the measured speed should rise with the indicated one, one measurement for each",
            )
            return ()
    if any(not 0.5 < measured / dial < 2 for dial, measured in points):
        table.problem(
            "warning",
            "speed_check",
            "measured and indicated speed differ by a factor of two or more; each pair is [indicated, measured]",
        )
    return tuple(points)


def _band_stock(name: str, table: Table) -> BandStock | None:
    before = table.problems.failed
    pitch = table.quantity("pitch", "pitch", low=0.1, high=100)
    form = table.choice("tooth_form", TOOTH_FORMS, "regular")
    tooth_set = table.choice("set", SETS, "raker")
    edge = table.choice("edge", EDGES)
    sizes = {key: table.quantity(key, "length", NOT_GIVEN, high=1000) for key in ("width", "thickness", "kerf")}
    if found := re.fullmatch(r"\s*(\d+)(?:[/-](\d+))? ?mm\s*", str(table.values.get("pitch"))):
        _spacing_for_a_pitch(table, found[2] or "", int(found[1]), pitch)
    gullet = table.quantity("gullet_area", "gullet_area", NOT_GIVEN, high=10_000)
    price, levels = table.quantity("price", "money", high=1e9, zero=True), _levels(table)
    table.unknown()
    if table.problems.failed > before:
        return None
    if (
        sizes["kerf"] == sizes["kerf"]
        and sizes["thickness"] == sizes["thickness"]
        and (_known(sizes["kerf"]) < _known(sizes["thickness"]))
    ):
        table.problem("warning", "kerf", "is less than the band's thickness; the set makes the kerf wider")
    return BandStock(
        name, _known(pitch), str(form), str(tooth_set), str(edge), _known(price), _known(sizes["width"]),
        _known(sizes["thickness"]), _known(sizes["kerf"]), None if gullet != gullet else gullet,
        _written_pitch(str(table.values["pitch"])), levels,
    )  # fmt: skip


def _spacing_for_a_pitch(table: Table, second: str, first: int, tpi: float | None) -> None:
    """A variable pitch is given in teeth per inch; and a whole number of mm is likelier to be that too than so wide."""
    if tpi is not None and (second or first >= WIDE):
        table.problem("warning", "pitch", f"{quoted(table.values['pitch'])} is read as a tooth every so many mm, "
                      f"{tpi:.3g} tpi; if it is teeth per inch, write tpi")  # fmt: skip


def _hours_of_a_band(table: Table, price: float, hour: float | None) -> None:
    """A band that costs as much as a week's work: its price is in cents, or the cost is that of a minute."""
    if hour and price > MOST_HOURS * hour:
        table.problem("warning", "price", f"{price:g} is as much as {price / hour:.0f} hours of machine and labor, "
                      f"{hour:g} each; is the price in cents, or that the cost of a minute?")  # fmt: skip


def _written_pitch(text: str) -> str:
    """A variable pitch as it was written; "" for a constant one.

    >>> _written_pitch("6-10 TPI"), _written_pitch("8 tpi"), _written_pitch("3.2 mm")
    ('6/10 tpi', '', '')
    """
    found = re.match(r"\s*(\d+(?:[.,]\d+)?)\s*[/\-]\s*(\d+(?:[.,]\d+)?)", text)
    return f"{found[1]}/{found[2]} tpi" if found else ""


def _material(name: str, table: Table) -> Material | None:
    before = table.problems.failed
    written = table.text_of("group", "")
    words = table.text_of("name", name)
    hardness = _known(table.quantity("hardness", "hardness", NOT_GIVEN, high=2000))
    speed = _known(table.quantity("start_speed", "speed", NOT_GIVEN, high=10_000))
    square = table.quantity("deviation_at_most", "length", NOT_GIVEN, high=1000)
    pieces = table.quantity("pieces_per_month", "number", NOT_GIVEN, high=1e9)
    table.unknown()
    if table.problems.failed > before:
        return None
    asked = (None if x is None or x != x else x for x in (square, pieces))
    group = _group(table, str(written), hardness, speed)
    return None if group is None else Material(name, str(words), group, hardness, speed, *asked)


def _group(table: Table, written: str, hardness: float, speed: float) -> str | None:
    """The group of a material, with the start of its own that stands beside or instead of one; None with a problem."""
    group = written if written.casefold() not in NO_GROUP_WORDS else "none"
    own = hardness == hardness or speed == speed
    try:
        match = find(group)
    except PublishedError as error:
        if near_names(group) or not own:
            table.problem("error", "group", str(error))
            return None
        table.problem("warning", "group", f"{quoted(written)} is not in the published tables, and is taken as a metal "
                      "without a group")  # fmt: skip
        group, match = "none", find("none")
    if speed == speed:
        typed = str(table.values["start_speed"]).strip()
        figure = typed if re.fullmatch(r"[\d.]+ ?[A-Za-z/]+", typed) else f"{speed:g} m/min"
        group = own_name("none" if match.group == NO_GROUP else match.grade or match.group, "start", figure)
    elif match.group == NO_GROUP and hardness == hardness:
        group = own_name("none", "hardness", f"{hardness:g} HB")
    match = find(group)
    if match.doubtful and not match.is_unknown:
        table.problem("warning", "group", match.note)
    return group


def _known(value: float | None) -> float:
    return NOT_GIVEN if value is None else value
