"""The card in words: what a person at the saw, and who pays for it, reads first. One list for text, HTML and JSON.

Short sentences, the shop's units, no word of statistics; those stand behind the fold, in `wording.fields`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

from bandtrial import units
from bandtrial.study.columns import COLUMNS
from bandtrial.words import count, listed, rounded, sentences

from .card_beside import Comparisons, Line, Shown, chances, closing, plain, saves, share, span
from .others import IN_STEPS, INSIDE, TRIED
from .wording import feed_words, run_words

if TYPE_CHECKING:
    from bandtrial.recommend.answer import Recommendation
    from bandtrial.trials.plan import Plan


BREAK_IN_CM2, BREAK_IN_FEED = (323.0, 645.0), (0.2, 0.5)  # 50 to 100 in2: published/model_priors.csv, break_in_feed
SIGNS = {"deviation": "a cut is out of square by over", "slower": "a cut takes longer than"}
LIVED = 1.3  # times the most that a band of the log sawed: pieces per band foretold beyond it get a remark
RUN_IN = 0.1  # most of a band's pieces that it is run in for, as one that lives shortly is not all its life; our choice
EASIER = 0.9  # of speed and feed: where a harder bar is begun
FINEST = {"mm": 2, "in": 3}  # decimals of a squareness that can be measured at a saw
LEAD_UP = ("break-in", "on the way")  # how the reasons of runs begin that only lead up to the next
STEPS = 3  # cuts of a trial that are made half-way, where it has at least twice as many
NAMES = {"now": "Against now", "published": "Against the published start"}
PARTS = {"time": "time", "band": "band", "change": "changing it", "lost": "lost pieces"}


def lines(r: Recommendation, plan: Plan | None = None) -> list[Line]:
    """The card of a recommendation; `plan` (`trials.Plan`) says the next trial where there is one."""
    c, words, beside = r.card, Words(r), Comparisons(r)
    rows: list[tuple[str, str, Iterable[str]]] = [
        ("set", "Set", words.setting()), ("read_first", "Read first", iter(sentences(r.warnings))),
        ("take_off", "Take the band off", words.take_off()), ("square", "Squareness", words.square()),
        ("piece", "One piece", words.piece(not beside.compared())), ("side_by_side", "Side by side", ()),
        *((name, NAMES[name], beside.against(c.beside[name])) for name in NAMES if name in c.beside),
        ("gain", "What saves it", beside.gain()), ("sure", "How sure", words.sure()),
        *((key, f"Why not {key}", words.more(step)) for key, step in zip(("faster", "heavier"), c.more, strict=True)),
        ("harder", "A harder bar", words.harder()), ("next", "Next trial", words.next_trial(plan)),
    ]  # fmt: skip
    tables = {"side_by_side": beside.side_by_side()}
    made = [Line(key, label, tuple(said), tables.get(key, ())) for key, label, said in rows]
    return [line for line in made if line.text]


class Words(Shown):
    """The sentences of each line of one recommendation's card."""

    def __init__(self, r: Recommendation) -> None:
        super().__init__(r)
        self.levels = (*r.job.machine.levels, *r.job.stock.levels)
        given = {"deviation": r.card.deviation_limit, **dict(self.levels)}
        self.telling = [s for s in r.card.signs if given.get(s.signal)
                        or (s.end > s.fresh and self.reading(s.end, s) != self.reading(s.fresh, s))]  # fmt: skip

    def setting(self) -> Iterator[str]:
        """What to set: the dial, the true speed where it differs, the feed; how far that is beyond what was tried."""
        s = self.r.setting
        off = abs(s.indicated / s.band_speed - 1) >= 0.005
        dial = f"{self.one(s.indicated, 'speed')} on the dial" + off * f" (true {self.one(s.band_speed, 'speed')})"
        yield f"{dial}, {self.name_of_feed()} {feed_words(self.job, s.feed)}."
        yield f"That is {self.card.beyond or INSIDE}."
        first, last = self.run_in()
        many = f"{first} to {last} pieces" if last > first else f"{first} pieces" if first > 1 else "piece"
        light, usual = (feed_words(self.job, part * s.feed).split("by hand ")[-1] for part in BREAK_IN_FEED)
        light = light.partition(" ")[0]
        part = f"a fifth to half of that {self.name_of_feed()}"
        yield f"New band: the dial as it is, the first {many} at {light} to {usual}, {part}."

    def run_in(self) -> tuple[int, int]:
        """Pieces that a new band is run in for, at least and at most."""
        most, area = RUN_IN * self.card.pieces.value, self.card.piece.area
        first, last = (max(1, round(min(size / area, most))) for size in BREAK_IN_CM2)
        return first, last

    def take_off(self) -> Iterator[str]:
        """When the band comes off, in pieces, and by which sign."""
        after, c, signs = self.r.setting.change_after, self.card, self.signs()
        if signs:
            yield f"When {', or '.join(signs)}."
        if after is not None:
            number = rounded(after / c.piece.area)
            yield f"{'At the latest after' if signs else 'After'} about {number} pieces, as good as it may still cut."
        elif signs and self.levels:
            yield "Pieces and costs here are of bands that run to their end; the watch counts those to the level."
        elif signs:
            yield f"Expect that after about {span(c.pieces)} pieces; a band that still cuts well stays on."
        else:
            yield f"When it is dull: expect that after about {span(c.pieces)} pieces."
        if not signs:
            yield "No power, squareness or time at a set force was logged, so no reading can tell when."

    def signs(self) -> list[str]:
        """By what readings the band comes off: the shop's own levels; else the one that pays to look for (`sign.Sign`)
        if any does, then the level that the others are foretold to be at by then."""
        best = self.r.sign if self.r.sign and self.r.sign.pays == "sign" and not self.levels else None
        read = {"cut_time": "slower"}.get(best.reading, best.reading) if best else ""
        others = [f"{self.over(sign)} ({self.reading(sign.fresh, sign)} when new)" for sign in self.telling
                  if sign.signal != read]  # fmt: skip
        return [best.look(self.job.system), *others] if best else others

    def over(self, sign: Any) -> str:
        """By what reading the band has to come off."""
        words = SIGNS.get(sign.signal, f"{sign.signal.replace('_', ' ')} at this setting is over")
        if sign.signal == "deviation" and self.card.deviation_limit:
            return f"{words} {self.one(self.card.deviation_limit, 'length')}"
        return f"{words} {self.reading(sign.end, sign)}"

    def reading(self, value: float, sign: Any) -> str:
        """A reading in the unit of its meter, no finer than it is read."""
        if sign.signal == "slower":
            return f"{rounded(self.card.fresh_seconds * value)} s"
        unit = COLUMNS[sign.signal].written or units.display_unit(sign.kind, self.job.system)
        shown = float(units.from_inside(value, sign.kind, unit))
        places = FINEST.get(unit, 9)
        least = "" if shown >= 10.0**-places else "under "
        return f"{least}{rounded(round(max(shown, 10.0**-places), places))} {unit}"

    def square(self) -> Iterator[str]:
        """Whether cuts stay square enough, where deviation is logged."""
        c = self.card
        if (sign := next((sign for sign in c.signs if sign.signal == "deviation"), None)) is None:
            return
        limit, end = self.one(c.deviation_limit or 0.0, "length"), self.reading(max(sign.fresh, sign.end), sign)
        if c.deviation_limit is None:
            old = "a new" if sign.fresh > sign.end else "a worn"
            yield f"No limit is set: {end} is what {old} band is foretold to come to, not what a drawing allows."
            yield "Set one by --deviation, or deviation_at_most of the material; the band then comes off sooner."
        elif c.deviation_held:
            yield f"The limit given, {limit}, is held until the band comes off."
        else:
            yield f"Nothing near what was tried keeps it within {limit} all along."

    def piece(self, alone: bool) -> Iterator[str]:
        """The piece that the card counts in, and what its cost is made of; its time and bands where it stands alone."""
        c, p, prices = self.card, self.card.piece, self.job.prices
        size = f"{self.one(self.job.thickness, 'length')} by {self.one(p.travel, 'length')}"
        what = "the piece cut most" if p.logged else "a piece of that thickness is not in the log yet"
        yield f"{size}, {self.one(p.area, 'area')} ({what})."
        if alone:
            yield f"It takes {plain(c.seconds)} s to saw; one band makes {span(c.pieces)} pieces."
        parts = zip(PARTS.values(), closing(c.cost.value, [c.parts[name] for name in PARTS], self.cents), strict=True)
        yield f"It costs {span(c.cost, self.money)}: {', '.join(map(' '.join, parts))}."
        paid = 60 * prices.per_minute, prices.band, prices.scrapped_piece
        hour, band, lost = (f"{rounded(x, 3)} {self.money}" for x in paid)
        change = f"{rounded(prices.change_minutes)} min a change"
        each = f"{hour} an hour for machine and labor, {band} a band, {change}, one lost piece ({lost}) a band"
        yield f"Reckoned at {each}."
        slow = c.seconds.value / 60 * sum(self.run_in()) / 2 * (1 / math.sqrt(math.prod(BREAK_IN_FEED)) - 1)
        dearer = f"{rounded(slow * prices.per_minute / c.pieces.value)} {self.money} a piece"
        yield f"Running in is left out: {rounded(slow)} min more a band, {dearer}."
        if c.longest and c.pieces.value > LIVED * c.longest / p.area:
            sawn = "1 such piece" if (many := rounded(c.longest / p.area)) == "1" else f"{many} such pieces"
            yield f"No band in the log has sawn more than {self.one(c.longest, 'area')} yet, the same as {sawn}."

    def sure(self) -> Iterator[str]:
        """How sure the saving is, and what that rests on."""
        e = self.r.evidence
        if (now := self.card.beside.get("now")) and not (now.dials_as_now and self.r.setting.change_after is None):
            yield f"{chances(now.surely)} that it is cheaper than what is run now."
            yield "What nobody knows of bands touches both alike: the saving is known better than what a piece costs."
        yield "Of figures with two more in brackets, 80 of 100 are between these."
        proof = f"{count(e['cuts'], 'line')} of the log, on {count(e['bands'], 'band')}"
        yield f"It rests on {proof}; {e['failed'] or 'none'} of the bands wore out or broke."
        yield "Least sure is how many pieces a band makes; each worn-out band that is logged makes it surer."

    def more(self, step: Any) -> Iterator[str]:
        """What MORE of one dial does to bands, time and money, the other left alone, and what rules it out."""
        what, other = ("speed", self.name_of_feed())[:: 1 if step.name == "speed" else -1]
        yield f"10 % more {what}, {other} as it is: {self.dial(step.indicated, step.feed)}."
        bands, time = share(step.pieces, "more", "fewer"), share(step.seconds, "longer", "less")
        yield f"A band makes {bands} pieces; a cut takes {time}."
        minutes, saved = self.card.seconds.value * (1 - step.seconds.value) / 60, step.dearer.turned()
        parts = self.split(saved, minutes)
        yield from sentences([f"a piece {saves(saved, self.money)}{parts and ': '}{parts}", step.why])
        if step.beyond:
            where = "" if step.beyond in step.why else f": it is {step.beyond}"
            yield f"No cut was made there{where}."

    def harder(self) -> Iterator[str]:
        """What to do where the bar is harder, of which the figures know nothing."""
        yield "The log knows no hardness of a bar, so nobody can say from it what a harder one costs."
        at = self.near(EASIER * self.r.setting.indicated, EASIER**2 * self.r.setting.feed)
        yield f"Common practice, no source: begin slower and lighter, with three pieces at {at}."
        yield "If they come square, stay there and log the bar as a material of its own; if not, stop and ask."
        power = next((sign for sign in self.card.signs if sign.signal in ("motor_power", "feed_force", "slower")), None)
        most = f"if {self.over(power).replace(' at this setting', '')}, and " if power else ""
        yield f"Stop, too, {most}at squeal or blue chips: a harder bar shows at its first cuts, a dull band slowly."

    def next_trial(self, plan: Plan | None) -> Iterator[str]:
        """The cuts to try next, those that lead up to them, and what they are worth; why there are none."""
        runs = plan.runs if plan is not None else tuple(filter(None, [self.r.telling_cut]))
        if not runs:
            ask = "the command bandtrial plan says which cuts to try next, what they cost and what they may gain"
            yield from sentences([plan.reason if plan is not None else ask])
            return
        at = next((i for i, run in enumerate(runs) if not run.why.startswith(LEAD_UP)), 0)
        run, cost = runs[at], sum(one.minutes for one in runs[: at + 1]) * self.job.prices.per_minute
        yield f"{run_words(self.job, run)}."
        for one in runs[:at]:
            light = (
                f"{count(one.cuts, 'cut')} at the same speed and {feed_words(self.job, one.feed)}, {one.minutes:g} min"
            )
            first = f"{run_words(self.job, one)} ({one.why.partition(':')[0]})"
            yield f"Before it: {light if one.why.startswith(LEAD_UP[1]) else first}."
        yield f"Machine and labor for it: about {rounded(cost)} {self.money}."
        why = run.why
        if plan is not None:
            pieces, known_from = rounded(plan.horizon / self.card.piece.area), plan.horizon_from.partition(";")[0]
            ahead = f"the {pieces} pieces ahead" + f" ({known_from})" * bool(known_from)
            why = why.replace("the work ahead", ahead)
        yield from sentences((why if run is not self.r.telling_cut else f"it {why}").split("; "))
        if TRIED in run.why:
            yield "Only a trial may go so far, as each of its cuts is watched."
        climbed = IN_STEPS in run.why or any(one.why.startswith(LEAD_UP[1]) for one in runs[:at])
        if run.cuts >= 2 * STEPS and not climbed:
            half = self.near(*((getattr(run, x) + getattr(self.r.setting, x)) / 2 for x in ("indicated", "feed")))
            yield f"Make the first {STEPS} of them half-way from the setting above: {half}."
        square = [self.over(sign) for sign in self.telling if sign.signal == "deviation"]
        power = next((sign for sign in self.telling if sign.signal == "motor_power"), None)
        rated = self.job.machine.motor_power if power else None
        motor = f"the motor labours or draws over its {self.reading(rated, power)}" if rated else "the motor labours"
        yield f"Stop at once if {listed([*square, motor, 'it squeals or shakes'], 'or')}."
