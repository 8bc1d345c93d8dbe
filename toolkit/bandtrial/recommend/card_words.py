"""The card in words: what a person at the saw, and who pays for it, reads first. One list for text, HTML and JSON.

Short sentences, the shop's units, no word of statistics; those stand behind the fold, in `wording.fields`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from bandtrial import units
from bandtrial.recommend.job import Value
from bandtrial.study.columns import COLUMNS
from bandtrial.words import count, listed, rounded, sentences

from .others import PUBLISHED_CHIP
from .wording import feed_words, run_words

if TYPE_CHECKING:
    from bandtrial.recommend.result import Recommendation
    from bandtrial.trials.plan import Plan


BREAK_IN_CM2, BREAK_IN_FEED = (323.0, 645.0), "20 to 50 %"  # 50 to 100 in2: published/model_priors.csv, break_in_feed
SIGNS = {"deviation": "a cut is out of square by over", "slower": "a cut takes longer than"}
RANGES = "Brackets hold a range: 80 chances in 100 that the true figure lies in it."
LIVED = 1.3
"""Pieces per band foretold beyond so many times the most that a band of the log sawed get a remark."""
SMALL = 0.01
"""Share of the cost of a piece below which a saving is not split."""
NAMES = {"now": "Against now", "published": "Against the published start"}


@dataclass(frozen=True)
class Line:
    """One line of the card: a stable key, a label, whole sentences."""

    key: str
    label: str
    sentences: tuple[str, ...]

    @property
    def text(self) -> str:
        """The sentences, one after the other."""
        return " ".join(self.sentences)


def lines(r: Recommendation, plan: Plan | None = None) -> list[Line]:
    """The card of a recommendation; `plan` (`trials.Plan`) says the next trial where there is one."""
    c, words = r.card, Words(r)
    rows: list[tuple[str, str, Iterator[str]]] = [
        ("set", "Set", words.setting()), ("read_first", "Read first", iter(sentences(r.warnings))),
        ("take_off", "Take the band off", words.take_off()), ("piece", "One piece", words.piece()),
        *((name, NAMES[name], words.against(c.beside[name])) for name in NAMES if name in c.beside),
        ("gain", "What saves it", words.gain()), ("sure", "How sure", words.sure()),
        ("square", "Squareness", words.square()), ("harder", "A harder bar", words.harder()),
        ("faster", "Why not faster", words.stopped("faster")), ("heavier", "Why not heavier", words.stopped("heavier")),
        *((f"more_{step.name}", f"10 % more {step.name}", words.more(step)) for step in c.more),
        ("next", "Next trial", words.next_trial(plan)),
    ]  # fmt: skip
    made = [Line(key, label, tuple(said)) for key, label, said in rows]
    return [line for line in made if line.sentences]


class Words:
    """The sentences of each line of one recommendation's card."""

    def __init__(self, r: Recommendation) -> None:
        self.r, self.job, self.card, self.money = r, r.job, r.card, r.job.currency

    def one(self, value: float, kind: str) -> str:
        """A quantity of `kind`, given in its inside unit, in the unit of the study."""
        return units.show(value, kind, self.job.system)

    def dial(self, indicated: float, feed: float) -> str:
        """A setting as it is set."""
        return f"{self.one(indicated, 'speed')} on the dial, {self.feed(feed)}"

    def feed(self, feed: float) -> str:
        """The feed as it is set: a rate, a force, or the pace of a hand feed."""
        return feed_words(self.job, feed)

    def setting(self) -> Iterator[str]:
        """What to set: the dial, the true speed where it differs, the feed."""
        s, (low, high) = self.r.setting, self.card.speeds
        near_enough = abs(s.indicated / s.band_speed - 1) < 0.005
        true = "" if near_enough else f" (true {self.one(s.band_speed, 'speed')})"
        yield f"{self.one(s.indicated, 'speed')} on the dial{true}, {self.name_of_feed()} {self.feed(s.feed)}."
        if high > 1.01 * low:
            near = self.one(low, "speed").split(" ")[0]
            yield f"The best speed may lie anywhere from {near} to {self.one(high, 'speed')} on the dial."
        first, last = (max(1, round(area / self.card.piece.area)) for area in BREAK_IN_CM2)
        many = f"the first {first} to {last} pieces" if last > first else count(first, "first piece")
        yield f"New band: run in {many} at {BREAK_IN_FEED} of this feed."

    def name_of_feed(self) -> str:
        """What is fed by: a feed, a feed force, a pace by hand."""
        return {"force": "feed force", "hand": "pace by hand"}.get(self.job.feed, "feed")

    def take_off(self) -> Iterator[str]:
        """When the band comes off, in pieces, and by which sign."""
        after, c = self.r.setting.change_after, self.card
        signs = self.signs()
        if signs:
            yield f"When {', or '.join(signs)}{'' if after is None else ', whichever comes first'}."
        if after is not None:
            number = rounded(after / c.piece.area)
            yield f"{'At the latest after' if signs else 'After'} about {number} pieces, as good as it may still cut."
        elif signs:
            yield f"Expect that after about {span(c.pieces)} pieces; one that still cuts well stays on."
        else:
            yield f"When it is dull: expect that after about {span(c.pieces)} pieces."
        if not signs:
            yield "No power, squareness or time at a set force was logged, so no reading can tell when."

    def signs(self) -> list[str]:
        """By what readings the band comes off: the shop's own levels; else the one that pays to look for (`sign.Sign`)
        if any does, then the level that the others are foretold to be at by then."""
        levels = (*self.job.machine.levels, *self.job.stock.levels)
        best = self.r.sign if self.r.sign and self.r.sign.pays == "sign" and not levels else None
        read = {"cut_time": "slower"}.get(best.reading, best.reading) if best else ""
        others = [self.over(sign) for sign in self.card.signs if sign.signal != read]
        return [best.look(self.job.system), *others] if best else others

    def over(self, sign: Any) -> str:
        """By what reading the band has to come off."""
        if sign.signal == "slower":
            return f"{SIGNS['slower']} {rounded(self.card.seconds.value * sign.end)} s"
        level = sign.end
        if sign.signal == "deviation" and self.card.deviation_limit:
            level = self.card.deviation_limit
        words = SIGNS.get(sign.signal, f"{sign.signal.replace('_', ' ')} at this setting is over")
        return f"{words} {self.reading(level, sign)}"

    def reading(self, value: float, sign: Any) -> str:
        """A reading in the unit of its meter."""
        unit = COLUMNS[sign.signal].written or units.display_unit(sign.kind, self.job.system)
        return f"{rounded(float(units.from_inside(value, sign.kind, unit)))} {unit}"

    def piece(self) -> Iterator[str]:
        """The piece that the card counts in."""
        c, p = self.card, self.card.piece
        size = f"{self.one(self.job.thickness, 'length')} by {self.one(p.travel, 'length')}"
        what = "the piece cut most" if p.logged else "a piece of that thickness is not in the log yet"
        yield f"{size}, {self.one(p.area, 'area')} ({what})."
        yield f"It takes {rounded(c.seconds.value)} s to saw and costs {span(c.cost, self.money)}."
        hour, band = rounded(60 * self.job.prices.per_minute), rounded(self.job.prices.band)
        yield f"In it: {hour} {self.money} an hour, {band} a band, changes, scrap."
        yield f"One band makes {span(c.pieces)} pieces."
        yield RANGES
        if c.longest and c.pieces.value > LIVED * c.longest / p.area:
            sawn = f"{rounded(c.longest / p.area)} such pieces"
            yield f"No band in the log has sawn more than {self.one(c.longest, 'area')} yet, the same as {sawn}."

    def against(self, b: Any) -> Iterator[str]:
        """What the setting costs and saves beside another one, `b` (`card.Beside`)."""
        c, at = self.card, f"{self.dial(b.indicated, b.feed)}"
        if b.name == "published":
            true = self.one(self.r.published_band_speed, "speed")
            chip = f"{self.one(PUBLISHED_CHIP, 'chip_load')} per tooth, our choice"
            yield f"Published is {true} true; as near as this machine comes that is {at} ({chip})."
            less = 1 - self.r.setting.band_speed / self.r.published_band_speed
            side = "below" if less > 0 else "above"
            yield f"The best speed here is {abs(100 * less):.0f} % {side} the published one."
        seconds, here = rounded(b.seconds.value), rounded(c.seconds.value)
        start = "There" if b.name == "published" else f"{at}"
        yield f"{start}: {rounded(b.pieces.value)} pieces per band, here {rounded(c.pieces.value)}."
        yield f"A piece takes {seconds} s there, {here} s here."
        month = c.pieces_per_month
        pieces = month or 100.0
        many = f"{rounded(pieces, 3)} pieces a month" if month else "100 pieces"
        hours = (b.seconds.value - c.seconds.value) * pieces / 3600
        time = f"{rounded(abs(hours))} h of sawing {'less' if hours > 0 else 'more'}"
        bands = f"{rounded(pieces / b.pieces.value)} bands there, {rounded(pieces / c.pieces.value)} here, {time}"
        yield f"For {many}: {bands}; this {_saves(b.saved.times(pieces), self.money)}{' a month' if month else ''}."
        stop = self.r.stops.get("published_start")
        if b.name == "published" and b.saved.value < 0 and stop is not None:
            yield from sentences([f"why it is not taken: {stop.said}"])
        if b.name == "now" and not month:
            yield "For a month's sums say how many pieces: --per-month, or pieces_per_month of the material."

    def gain(self) -> Iterator[str]:
        """What the saving against now comes from: the speed, the feed, the change-out."""
        c, now = self.card, self.card.beside.get("now")
        if now is None or not c.gains or abs(sum(c.gains.values())) < SMALL * c.cost.value:
            return
        dials = {"speed": "the band speed", "feed": f"the {self.name_of_feed()}", "change": "when the band is changed"}
        said = [
            f"{dials[name]} {'saves' if gain > 0 else 'costs'} {rounded(abs(gain))} {self.money}"
            for name, gain in sorted(c.gains.items(), key=lambda item: -item[1])
            if abs(gain) > 0.05 * abs(sum(c.gains.values()))
        ]
        yield f"Per piece, against now: {', '.join(said)}."

    def sure(self) -> Iterator[str]:
        """How sure the saving is, and what that rests on."""
        e, now = self.r.evidence, self.card.beside.get("now")
        if now is not None:
            better = "cheaper than what is run now"
            yield f"{_chances(now.surely)} that it is {better}."
        proof = f"{count(e['cuts'], 'line')} of the log, on {count(e['bands'], 'band')}"
        yield f"It rests on {proof}; {e['failed'] or 'none'} of the bands wore out or broke."
        yield "Least sure is how many pieces a band makes; each worn-out band that is logged makes it surer."

    def square(self) -> Iterator[str]:
        """Whether cuts stay square enough, where deviation is logged."""
        c = self.card
        sign = next((sign for sign in c.signs if sign.signal == "deviation"), None)
        if sign is None:
            return
        fresh, end = self.reading(sign.fresh, sign), self.reading(sign.end, sign)
        yield f"Expect {fresh} out of square with a new band, {end} when it comes off."
        if c.deviation_limit is None:
            yield "That is foretold, no limit: one can be given for the material (deviation_at_most, --deviation)."
        elif not c.deviation_held:
            yield f"Nothing near what was tried keeps it within {self.one(c.deviation_limit, 'length')} all along."

    def harder(self) -> Iterator[str]:
        """What to do where the bar is harder, of which the figures know nothing."""
        yield "The log knows no hardness, so nobody can say from it what a harder bar costs."
        yield "Common practice, no source: begin 10 % slower with 10 % less feed for three pieces."
        yield "If they come square, go back in two steps; log the bar as a material of its own."
        power = next((sign for sign in self.card.signs if sign.signal in ("motor_power", "feed_force", "slower")), None)
        if power is None:
            yield "Watch for squeal, blue chips and cuts that run off."
        elif power.signal == "slower":
            yield f"Watch the time: a new band needs about {rounded(self.card.seconds.value)} s here; longer is harder."
        else:
            words, fresh = power.signal.replace("_", " "), self.reading(power.fresh, power)
            yield f"Watch the {words}: a new band takes about {fresh} here. Hardness shows at once, wear comes slowly."

    def stopped(self, name: str) -> Iterator[str]:
        """The next step of a dial, and what stops it."""
        stop = self.r.stops.get(name)
        if stop is not None:
            kept = "feed force" if self.job.feed == "force" else "feed per tooth"
            yield f"The next step, {kept if name == 'faster' else 'speed'} as it is: {stop.setting}."
            yield from sentences([stop.said])

    def more(self, step: Any) -> Iterator[str]:
        """What the next step of one dial does to bands and time, the other left alone."""
        other = self.name_of_feed() if step.name == "speed" else "speed"
        bands = _share(step.pieces, "more", "fewer")
        time = _share(step.seconds, "longer", "less")
        yield f"{self.dial(step.indicated, step.feed)}, {other} unchanged."
        yield f"A band makes {bands} pieces; a cut takes {time}."
        yield f"That {_saves(step.dearer.turned(), self.money)} per piece."
        if step.stopped_by:
            yield f"As a setting it is ruled out by {_bound(step.stopped_by)}."

    def next_trial(self, plan: Plan | None) -> Iterator[str]:
        """The cut to try next and what it is worth; why there is none."""
        if plan is not None and plan.runs:
            run = plan.runs[0]
            yield f"{run_words(self.job, run)}."
            cost = rounded(run.minutes * self.job.prices.per_minute)
            yield f"It costs about {cost} {self.money} of machine time."
            yield from sentences(run.why.split("; "))
            if plan.horizon:
                yield f"The work ahead: {rounded(plan.horizon / self.card.piece.area)} of these pieces."
        elif self.r.telling_cut:
            yield f"{run_words(self.job, self.r.telling_cut)}."
            yield from sentences(f"it {self.r.telling_cut.why}".split("; "))
        elif plan is not None:
            yield from sentences([plan.reason])
            return
        else:
            yield "The command bandtrial plan says which cuts to try next, what they cost and what they may gain."
        yield "A trial may go further and cost more than a setting, as each piece is watched."
        yield f"Go there in two steps of three of these pieces. {self.stop_rule()}"

    def stop_rule(self) -> str:
        """When to stop a trial cut at once: by what tells at any setting, as power and time are another's there."""
        square = [self.over(sign) for sign in self.card.signs if sign.signal == "deviation"]
        return f"Stop at once if {listed([*square, 'the motor labours', 'it squeals or shakes'], 'or')}."


def span(v: Value, unit: str = "") -> str:
    """A value in its range, to the second figure of half the range, but no more than three figures in all.

    >>> span(Value(0.14351, 0.1397, 0.1563), "EUR"), span(Value(96.9, 20.0, 160.0)), span(Value(-3.0, -5.0, 1.0))
    ('0.144 (0.140 to 0.156) EUR', '97 (20 to 160)', '−3.0 (−5.0 to 1.0)')
    """
    half, most = (v.high - v.low) / 2, max(abs(v.value), abs(v.low), abs(v.high))
    if not half > 2e-3 * most:
        return f"{rounded(v.value, 3)} {unit}".strip()
    places = min(1 - math.floor(math.log10(half)), 2 - math.floor(math.log10(most)))
    value, low, high = (f"{round(x, places):,.{max(places, 0)}f}" for x in (v.value, v.low, v.high))
    return f"{value} ({low} to {high}) {unit}".strip().replace("-", "−")


def _saves(v: Value, money: str) -> str:
    """What is saved, or costs more, with its range; both ends in words where they are on both sides.

    >>> _saves(Value(16.0, 8.0, 22.0), "EUR"), _saves(Value(-47.0, -141.0, 56.0), "EUR")
    ('saves 16.0 (8.0 to 22.0) EUR', 'costs 47 EUR more (from 56 less to 141 more)')
    """
    saves = v.value > 0
    if not v.low < 0 < v.high:
        return f"saves {span(v, money)}" if saves else f"costs {span(v.turned(), money)} more"
    value, low, high = (part.strip("()").replace("−", "") for part in span(v).replace("to ", "").split(" "))
    if saves:
        return f"saves {value} {money} (from {low} lost to {high} saved)"
    return f"costs {value} {money} more (from {high} less to {low} more)"


def _bound(name: str) -> str:
    """A limit by its name, as people say it.

    >>> _bound("band speed, greatest"), _bound("motor power")
    ('the greatest band speed', 'the limit of motor power')
    """
    what, _, side = name.partition(", ")
    return f"the {side} {what}" if side else f"the limit of {what}"


def _share(v: Value, more: str, less: str) -> str:
    """A factor with its range, as a share more or less.

    >>> _share(Value(0.7, 0.6, 0.8), "more", "fewer"), _share(Value(1.0, 1.0, 1.0), "longer", "less")
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


def _chances(p: float) -> str:
    """A chance as people say it.

    >>> _chances(0.98), _chances(0.4), _chances(1.0)
    ('98 chances in 100', '40 chances in 100', 'Over 99 chances in 100')
    """
    return "Over 99 chances in 100" if p > 0.99 else f"{100 * p:.0f} chances in 100"
