"""What a setting costs and saves beside others, as a table and in words: what is run now, the published start. A line
of the card, and its numbers as people read them: as fine as their ranges leave them, parts that add up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from bandtrial import units
from bandtrial.published.materials import find
from bandtrial.published.tables import source_name
from bandtrial.recommend.job import Value
from bandtrial.words import rounded, sentences, table_text

from .others import PUBLISHED_CHIP, nearest_speed
from .wording import feed_words

if TYPE_CHECKING:
    from bandtrial.recommend.answer import Recommendation


@dataclass(frozen=True)
class Line:
    """One line of the card: a stable key, a label, whole sentences, or a small table, its heads first."""

    key: str
    label: str
    sentences: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...] = ()

    @property
    def text(self) -> str:
        """The sentences, one after the other; the lines of the table."""
        return " ".join(self.sentences) or "\n".join(table_text(self.rows))


def places(v: Value) -> int:
    """Decimals of a value in its range: to the second figure of half of it, but no more than three figures in all."""
    half, most = (v.high - v.low) / 2, max(abs(v.value), abs(v.low), abs(v.high)) or 1.0
    three = 2 - math.floor(math.log10(most))
    return min(1 - math.floor(math.log10(half)), three) if half > 2e-3 * most else three


def in_units(v: Value, kind: str, system: str) -> tuple[Value, str]:
    """A value of a kind in the unit of a system, and that unit."""
    unit = units.display_unit(kind, system)
    return v.times(float(units.from_inside(1.0, kind, unit))), unit


def plain(v: Value) -> str:
    """A value with the digits that its range leaves it."""
    return span(v).split(" ")[0]


def closing(total: float, parts: list[float], decimals: int | None = None) -> list[str]:
    """Parts of a total, rounded so that they add up to the rounded total (to three decimals, fewer from 10 on, unless
    `decimals` says): the largest remainders go up.

    >>> closing(0.924, [0.714, 0.134, 0.076], 2), closing(16.2, [20.5, -4.3], 0)
    (['0.71', '0.13', '0.08'], ['20', '−4'])
    """
    decimals = max(0, 3 - max(0, math.floor(math.log10(total)))) if decimals is None else decimals
    units_of = [part * 10**decimals for part in parts]
    whole = [math.floor(x) for x in units_of]
    left = round(total * 10**decimals) - sum(whole)
    for i in sorted(range(len(parts)), key=lambda i: whole[i] - units_of[i])[: max(left, 0)]:
        whole[i] += 1
    return [f"{x / 10**decimals:,.{max(decimals, 0)}f}".replace("-", "−") for x in whole]


def span(v: Value, unit: str = "") -> str:
    """A value in its range, to the second figure of half the range, but no more than three figures in all.

    >>> span(Value(0.14351, 0.1397, 0.1563), "EUR"), span(Value(96.9, 20.0, 160.0)), span(Value(-3.0, -5.0, 1.0))
    ('0.144 (0.140 to 0.156) EUR', '97 (20 to 160)', '−3.0 (−5.0 to 1.0)')
    """
    if not v.high - v.low > 4e-3 * max(abs(v.value), abs(v.low), abs(v.high)):
        return f"{rounded(v.value, 3)} {unit}".strip()
    decimals = places(v)
    value, low, high = (f"{round(x, decimals):,.{max(decimals, 0)}f}" for x in (v.value, v.low, v.high))
    return f"{value} ({low} to {high}) {unit}".strip().replace("-", "−")


def saves(v: Value, money: str) -> str:
    """What is saved, or costs more, with its range; both ends in words where they are on both sides.

    >>> saves(Value(16.0, 8.0, 22.0), "EUR"), saves(Value(-47.0, -141.0, 56.0), "EUR")
    ('saves 16.0 (8.0 to 22.0) EUR', 'costs 47 EUR more (from 56 less to 141 more)')
    """
    saves = v.value > 0
    if not v.low < 0 < v.high:
        return f"saves {span(v, money)}" if saves else f"costs {span(v.turned(), money)} more"
    value, low, high = (part.strip("()").replace("−", "") for part in span(v).replace("to ", "").split(" "))
    if saves:
        return f"saves {value} {money} (from {low} lost to {high} saved)"
    return f"costs {value} {money} more (from {high} less to {low} more)"


def share(v: Value, more: str, less: str) -> str:
    """A factor with its range, as a share more or less.

    >>> share(Value(0.7, 0.6, 0.8), "more", "fewer"), share(Value(1.0, 1.0, 1.0), "longer", "less")
    ('30 % (20 to 40) fewer', 'as long')
    """
    value, low, high = (100 * (x - 1) for x in (v.value, v.low, v.high))
    if abs(value) < 0.5 and high - low < 1:
        return "as many" if more == "more" else "as long"
    if low < 0 < high:
        return f"{abs(value):.0f} % {more if value > 0 else less} ({abs(low):.0f} % {less} to {high:.0f} % {more})"
    ends = sorted((abs(low), abs(high)))
    span = f" ({ends[0]:.0f} to {ends[1]:.0f})" if ends[1] - ends[0] >= 1 else ""
    return f"{abs(value):.0f} %{span} {more if value > 0 else less}"


def chances(p: float) -> str:
    """A chance as people say it.

    >>> chances(0.98), chances(0.4), chances(1.0)
    ('98 chances in 100', '40 chances in 100', 'Over 99 chances in 100')
    """
    return "Over 99 chances in 100" if p > 0.99 else f"{100 * p:.0f} chances in 100"


SMALL = 0.01  # share of the cost of a piece below which a saving is not split


class Shown:
    """One recommendation, its settings and sums as they are shown to a shop."""

    def __init__(self, r: Recommendation) -> None:
        self.r, self.job, self.card, self.money = r, r.job, r.card, r.job.currency

    def one(self, value: float, kind: str) -> str:
        """A quantity of `kind`, given in its inside unit, in the unit of the study."""
        return units.show(value, kind, self.job.system)

    def dial(self, indicated: float, feed: float) -> str:
        """A setting as it is set."""
        return f"{self.one(indicated, 'speed')} on the dial, {feed_words(self.job, feed)}"

    def near(self, indicated: float, feed: float) -> str:
        """The setting that dial and knob can hold next below one."""
        dial, knob = self.job.step()
        speed, held = dial * math.floor(indicated / dial + 1e-9), knob * math.floor(feed / knob + 1e-9)
        V = nearest_speed(self.job, float(self.job.machine.true_speed(speed)))
        return self.dial(float(self.job.machine.indicated_speed(V)), held or feed)

    def name_of_feed(self) -> str:
        """What is fed by: a feed, a feed force, a pace."""
        return {"force": "feed force", "hand": "pace"}.get(self.job.feed, "feed")

    @property
    def cents(self) -> int:
        """Decimals of what a piece costs: cents at least where it costs less than ten."""
        return max(places(self.card.cost), 2 if self.card.cost.value < 10 else 0)

    def split(self, saved: Value, minutes: float) -> str:
        """What time, and what bands with their changes and lost pieces, have in a saving: they add up to it. "" where
        the time is the same."""
        spent = minutes * self.job.prices.per_minute
        parts = closing(saved.value, [spent, saved.value - spent], places(saved))
        time, bands = (f"{x.lstrip('−')} {self.money} {'more' if x[0] == '−' else 'less'}" for x in parts)
        return f"time costs {time}, bands and lost pieces {bands}" if abs(spent) > 1e-9 else ""


class Comparisons(Shown):
    """The setting of one recommendation beside the others of its card."""

    def compared(self) -> list[Any]:
        """The settings that stand beside this one in the table (`card.Beside`), but for those nobody can reckon and the
        same again."""
        same = self.r.setting.change_after is None
        again = {"now": same, "published": False}
        return [b for b in self.card.beside.values()
                if not (b.unlike and b.name == "published") and not (b.dials_as_now and again[b.name])]  # fmt: skip

    def many(self) -> tuple[float, str]:
        """How many pieces sums are for, and what they are called."""
        many = self.card.pieces_per_month
        return many or 100.0, f"{rounded(many or 100.0, 3)} pieces{' a month' if many else ''}"

    def side_by_side(self) -> tuple[tuple[str, ...], ...]:
        """A table of what is run now, of this setting and of the published start: set, time, bands, money. The sums of
        money differ by what is said to be saved."""
        if not (others := self.compared()):
            return ()
        c, s, (many, named) = self.card, self.r.setting, self.many()
        by_name = {b.name: b for b in others}
        told = [(name, of) for name, of in (("now", by_name.get("now")), ("this setting", c),
                                            ("published start", by_name.get("published"))) if of]  # fmt: skip
        dials = [(s.indicated, s.feed) if of is c else (of.indicated, of.feed) for _, of in told]
        digits = max(*(places(b.saved.times(many)) for b in others), 0)
        own = round(c.cost.value * many, digits)
        sums = [own + (0 if of is c else round((saved := of.saved.times(many)).value, places(saved))) for _, of in told]
        cells = {
            "": [name for name, _ in told],
            "on the dial": [self.one(V, "speed") for V, _ in dials],
            self.name_of_feed(): [feed_words(self.job, feed).split("by hand ")[-1] for _, feed in dials],
            "to saw a piece": [f"{plain(of.seconds)} s" for _, of in told],
            "pieces a band makes": [plain(of.pieces) for _, of in told],
            "a piece costs": [f"{of.cost.value:,.{self.cents}f} {self.money}" for _, of in told],
            f"{named}: sawing": [f"{rounded(of.seconds.value * many / 3600, 4)} h" for _, of in told],
            "bands for them": [rounded(many / of.pieces.value) for _, of in told],
            "cost of them": [f"{x:,.{digits}f} {self.money}" for x in sums],
        }
        return tuple((label, *row) for label, row in cells.items())

    def against(self, b: Any) -> Iterator[str]:
        """What the setting saves beside another one, `b` (`card.Beside`), and whether that can be set."""
        c, (many, _) = self.card, self.many()
        if b.name == "published":
            yield from self.published(b, self.dial(b.indicated, b.feed))
        if b.unlike and b.name == "published":
            yield "That is so unlike all that was cut that nobody can say from the log what it would cost."
            yield from self.not_taken()
            return
        if b.name == "now" and b.dials_as_now:
            if self.r.setting.change_after is None:
                yield f"Now it is {self.dial(b.indicated, b.feed)}."
                yield "That is this setting, as far as a dial and a stopwatch tell: stay there."
                return
            yield "The dials stay as they are; what is new is when the band comes off."
        month = " a month" if c.pieces_per_month else f" per {rounded(many, 3)} pieces"
        saved, minutes = b.saved.times(many), (b.seconds.value - c.seconds.value) * many / 60
        what = "This setting"
        if b.name == "published":
            what, saved, minutes = "Begun so, the work", saved.turned(), -minutes
        parts = self.split(saved, minutes)
        yield f"{what} {saves(saved, self.money)}{month}{parts and ': '}{parts}."
        if b.name == "published" and b.saved.value < 0:
            yield from self.not_taken()
        if b.name == "now" and not c.pieces_per_month:
            yield "For a month's sums say how many pieces: --per-month, or pieces_per_month of the material."

    def not_taken(self) -> Iterator[str]:
        """What speaks against the published start."""
        if stop := self.r.stops.get("published_start"):
            yield from sentences([f"why it is not taken: {stop.said}"])

    def published(self, b: Any, at: str) -> Iterator[str]:
        """What is published for the job and by whom, how far the best is from it, and whether it can be set."""
        star, base = self.r.published_band_speed, find(self.job.material.group).base
        speed, unit = in_units(self.r.speed, "speed", self.job.system)
        chip, um = in_units(Value(PUBLISHED_CHIP, 0, 0), "chip_load", self.job.system)
        less = 1 - self.r.speed.value / star
        kind = "Your own start" if base.how_known == "your own" else "Published speed"
        yield f"{kind}: {self.one(star, 'speed')} true ({source_name(base.source)})."
        yield f"Best here: {span(speed, unit)} true, {abs(100 * less):.0f} % {'lower' if less > 0 else 'higher'}."
        near = abs(float(self.job.machine.true_speed(b.indicated)) / star - 1) < 0.01
        where = "It is set as" if near else "This machine cannot run it; the nearest is"
        yield f"{where} {at}. No feed is published: that is {rounded(chip.value, 1)} {um} per tooth, our choice."

    def gain(self) -> Iterator[str]:
        """What the saving against now comes from: the speed, the feed, the change-out."""
        c, now = self.card, self.card.beside.get("now")
        if now is None or now.dials_as_now or not c.gains or abs(sum(c.gains.values())) < SMALL * c.cost.value:
            return
        dials = {"speed": "the band speed", "feed": f"the {self.name_of_feed()}", "change": "when the band is changed"}
        many, named = self.many()
        total = now.saved.times(many)
        gains = sorted(c.gains.items(), key=lambda item: -item[1])
        shares = [gain / sum(c.gains.values()) * total.value for _, gain in gains]
        parts = zip(gains, closing(total.value, shares, places(total)), strict=True)
        said = [f"{dials[name]} {'costs' if part[0] == '−' else 'saves'} {part.lstrip('−')} {self.money}"
                for (name, _), part in parts if part.strip("−0.,")]  # fmt: skip
        yield f"Against now, for {named}: {', '.join(said)}."
