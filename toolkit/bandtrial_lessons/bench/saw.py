"""What happens on the bench: numbers, signs, life and price of a setting.

Forces, wear and cost are those of the invented shops (`bandtrial_lessons.shop`); what else makes a contour saw, how a
band bends, slips, binds and breaks, is ours, simple on purpose, and no source: it teaches which way things go, not how
far. Where a rule is published, it is the published one: teeth in the cut, contour radius, speeds by edge, n by edge.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from bandtrial import published, sawing
from bandtrial.sawing import Numbers

from bandtrial_lessons import costs
from bandtrial_lessons.bench.setting import GEARS, BenchSetting, BenchWork
from bandtrial_lessons.shop.config import VirtualStock
from bandtrial_lessons.shop.mechanics import Mechanics
from bandtrial_lessons.shop.sheets import BandStock
from bandtrial_lessons.teaching import prices_of, straight_life, teaching_shop

SLOPE = {"carbon": 10.0, "bimetal": 8.0, "carbide": 4.0}
"""1/n by edge (groover, kalpakjian; from memory)."""
LASTS = {"carbon": 1.0, "bimetal": 1.0, "carbide": 6.0}
"""Life at the published start of its edge, over that of a bimetal one at its own [-]; our saw's own setting."""
PRICE = {"carbon": 0.4, "bimetal": 1.0, "carbide": 4.5}
"""Of a band over that of a bimetal one [-]; our saw's own setting."""
THIN, THICK = 0.64, 0.89
"""Thickness of bands narrower than 16 mm, and of others [mm] (0.025 and 0.035 in: common practice, no source)."""
MOTOR = 2200.0
"""[W]; our saw's own setting."""
PULL = {"low": 3200.0, "high": 1100.0}
"""Greatest cutting force before the drive stalls, by range [N]; our saw's own setting."""
HAND = 1.8
"""Heaviest chip of a hand feed over its mean [-]; our saw's own setting."""
FRICTION = {"raker": 1.0, "wave": 1.15, "straight": 1.5}
"""Cutting force in a solid over that of a raker set [-]; our saw's own setting."""
RUBS, RADIUS = 5.0, 10.0
"""Chip load below which edges rub, and their rounding [um] (sarwar_2010: rounding 5 to 15)."""
GRABS = 0.6
"""Chip load over that of stripping at which teeth that lean forward dig in in iron and steel; our saw's own setting
(textbook_gw, read: regular teeth for ferrous metals)."""
BLUE = 1.35
"""Speed over the published one for metal and edge beyond which chips come blue [-]; our saw's own setting."""
CROOKED = 0.30
"""Deviation that spoils a piece [mm]; our saw's own setting."""
SPAN, WIDE, TAUT = 60.0, 19.05, 170.0
"""Free band, width and tension that deviations are stated for [mm, mm, N/mm2]."""
BENDS = 2.5e4
"""Turns to the break at a thickness of 1/500 of the wheel and a tension of `TAUT` [-]; our saw's own setting."""
LOOSE, TIGHT = 110.0, 260.0
"""Tension below which a band slips, above which it breaks early [N/mm2]; our saw's own setting."""
RAW = 0.75
"""Life of a band that was not broken in over that of one that was [-]; our saw's own setting. A fast first stage of
edge chipping was read in jia_2024; to break in at 0.2 to 0.5 of the feed is common practice, from memory."""
BREAK_IN_AREA, BREAK_IN_FEED = 450.0, 0.4
"""Sawn at a share of the feed to break a band in [cm2, -]: 50 to 100 in2 at 0.2 to 0.5, common practice,
from memory."""
LEAST_TEETH, FEW_TEETH, MANY_TEETH = 2.0, 3.0, 24.0
"""Published rules: 2 (navy_14119), 3 (open_textbook); 24 at most (common practice, memory)."""


@dataclass(frozen=True)
class Sign:
    """What is seen, heard or smelt. id; text; stops: whether the cut is over at once."""

    id: str
    text: str
    stops: bool = False


@dataclass(frozen=True)
class BenchCut:
    """A setting at work: inside units; signs in order of weight. life [min] and area [cm2] of a band; cost
    [currency/cm2], nan where the cut is over at once."""

    setting: BenchSetting
    teeth: float
    chip_load: float
    heaviest: float
    feed_rate: float
    gullet_fill: float
    cutting_rate: float
    force: float
    power: float
    deviation: float
    life: float
    area: float
    cost: float
    band_price: float
    signs: tuple[Sign, ...]

    @property
    def sound(self) -> bool:
        """Whether there is no sign of anything wrong."""
        return not self.signs

    @property
    def stopped(self) -> bool:
        return any(sign.stops for sign in self.signs)


class BenchSaw:
    """The bench of one student: metal, machine and prices follow from `drawn`; the work is given."""

    def __init__(self, drawn: str, work: BenchWork) -> None:
        self.work, self.prices = work, prices_of(drawn)
        self.shop = teaching_shop(drawn, work.thickness)
        self.metal, self.currency = self.shop.material, self.shop.config.currency
        self.life_at_start = _life(self.shop, work.thickness)
        self.mechanics = lru_cache(maxsize=64)(self._mechanics)

    def published_speed(self, edge: str) -> float:
        """Published start for metal, thickness and edge [m/min]."""
        return published.band_speed(self.metal.group, self.work.thickness, edge)

    def _mechanics(self, pitch: float, form: str, edge: str, kerf: float) -> Mechanics:
        """Of a band: its own wear law, published speed and n by edge."""
        config, L = self.shop.config, self.work.thickness
        lasts = LASTS[edge] * self.life_at_start
        contact = float(sawing.contact_minutes(lasts, L, config.machines[0].sheet.band_length))
        material = straight_life(config, self.published_speed(edge), SLOPE[edge], contact, L)
        sheet = BandStock(id="bench", pitch_tpi=pitch, tooth_form=form, set="raker", edge=edge, price=1.0, kerf=kerf)
        stock: VirtualStock = replace(config.stock[0], sheet=sheet)
        machine = replace(config.machines[0], sheet=replace(config.machines[0].sheet, motor_power=MOTOR))
        return Mechanics(machine, stock, material)

    def mechanics_of(self, s: BenchSetting) -> Mechanics:
        kerf = thickness_of(s.width) * (1.1 if s.set == "straight" else 1.5)
        return self.mechanics(s.pitch, s.form, s.edge, kerf)

    def chip_load(self, s: BenchSetting, wear: Numbers, speed: Numbers) -> Numbers:
        """Mean chip load [um]: of the set feed, or what the weight leaves as the edge dulls."""
        m = self.mechanics_of(s)
        if s.feed == "weight":
            return m.chip_load_at_force(s.weight, self.work.thickness, wear)
        return sawing.chip_load(speed, s.feed_rate, m.spacing)

    def cut(self, s: BenchSetting, wear: float = 0.2) -> BenchCut:
        """What a setting does with a band of that wear used [-]."""
        m, L = self.mechanics_of(s), self.work.thickness
        h = float(self.chip_load(s, wear, s.speed))
        heaviest = h * (HAND if s.feed == "hand" else 1.0)
        friction = 1.0 if self.work.hollow and s.set == "wave" else FRICTION[s.set]
        power = friction * float(m.motor_power(s.speed, heaviest, L, wear))
        force = 60.0 * power * float(m.machine.sheet.drive_efficiency) / s.speed
        feed = float(sawing.feed_rate(s.speed, h, m.spacing))
        life, area, cost = (float(x) for x in self.in_the_long_run(s, s.speed))
        deviation = self.deviation(s, float(m.feed_force(heaviest, L, wear)), wear)
        numbers = {
            "teeth": float(sawing.teeth_in_cut(L, m.spacing)), "chip_load": h, "heaviest": heaviest, "feed_rate": feed,
            "gullet_fill": float(m.gullet_fill(heaviest, L)), "cutting_rate": float(sawing.cutting_rate(feed, L)),
            "force": force, "power": power, "deviation": deviation,
        }  # fmt: skip
        signs = tuple(self._signs(s, numbers, m.material.law.strip_chip_load))
        stopped = any(sign.stops for sign in signs)
        return BenchCut(s, **numbers, life=0.0 if stopped else life, area=0.0 if stopped else area,
                        cost=float("nan") if stopped else cost, band_price=self.band_price(s), signs=signs)  # fmt: skip

    def bill(self, cut: BenchCut) -> float:
        """A band, its change, and its minutes of cutting [currency]."""
        return cut.band_price + self.prices.hour / 60.0 * (self.prices.change + cut.life)

    def ending(self, cut: BenchCut) -> str:
        """What a band that nothing went wrong with came to, in words."""
        broke = float(self.breaking(cut.setting, cut.setting.speed)) * cut.life > 0.5
        return "until it broke from bending round the wheels" if broke else "until it was worn"

    def band_price(self, s: BenchSetting) -> float:
        """[currency]; wide bands cost more."""
        return self.prices.band * PRICE[s.edge] * (0.6 + 0.4 * s.width / WIDE)

    def in_the_long_run(
        self, s: BenchSetting, speed: Numbers, feed_rate: Numbers = None
    ) -> tuple[Numbers, Numbers, Numbers]:
        """Life [min], area of a band [cm2] and cost [currency/cm2] at speeds, half worn chips, nothing going wrong.

        feed_rate : of a set feed, instead of the setting's [mm/min]
        """
        m, L = self.mechanics_of(s), self.work.thickness
        speed = np.asarray(speed, dtype=float)
        h = self.chip_load(s, 0.5, speed) if feed_rate is None else sawing.chip_load(speed, feed_rate, m.spacing)
        h = h * (1.0 if s.feed != "hand" else 1.1)
        contact = L / m.machine.sheet.band_length
        worn = m.wear_rate(speed, h, L) * contact / (1.0 if s.broken_in else RAW)
        life = 1.0 / (worn + self.breaking(s, speed))
        rate = sawing.cutting_rate(sawing.feed_rate(speed, h, m.spacing), L)
        breaking = BREAK_IN_AREA * (1.0 / BREAK_IN_FEED - 1.0) / rate if s.broken_in else 0.0
        c = self.prices.hour / 60.0
        extra = c * breaking / np.maximum(rate * life, 1e-9)
        cost = costs.cost_per_area(rate, life, self.prices.hour, self.prices.change, self.band_price(s)) + extra
        return life, rate * life, cost

    def breaking(self, s: BenchSetting, speed: Numbers) -> Numbers:
        """Share of a band's bends used in a minute [1/min]: bends fall with thickness over wheel, and with tension."""
        sheet = self.shop.config.machines[0].sheet
        bends = BENDS * (500.0 * thickness_of(s.width) / sheet.wheel_diameter) ** -4 * (TAUT / s.tension) ** 3
        return speed / (sheet.band_length / 1000.0) / bends

    def deviation(self, s: BenchSetting, feed_force: float, wear: float) -> float:
        """Out of line at the worst place [mm]: feed force x (span / width)^3, less with tension, more with wear."""
        span = self.work.thickness + s.guide
        stiff = (span / SPAN) ** 3 * (WIDE / s.width) ** 1.5 * TAUT / s.tension
        return float(0.02 * feed_force / 100.0 * stiff * (1.0 + 1.5 * wear))

    def _signs(self, s: BenchSetting, n: dict[str, float], strip: float) -> list[Sign]:
        found = [*self._endings(s, n, strip), *self._warnings(s, n, strip)]
        return found

    def _endings(self, s: BenchSetting, n: dict[str, float], strip: float) -> list[Sign]:
        """What ends the cut at once."""
        found = []
        least = FEW_TEETH if s.set == "raker" and self.work.hollow else LEAST_TEETH
        if n["teeth"] < least or n["heaviest"] > 2.5 * strip:
            found.append(Sign("strip", "Teeth are torn out, one after the other: the band is stripped.", True))
        if n["gullet_fill"] > 1.3:
            found.append(Sign("packed", "Gullets are packed solid; teeth break out with the chips in them.", True))
        if n["power"] > MOTOR or n["force"] > PULL[s.gear]:
            found.append(Sign("stall", "The motor groans, the band stands in the cut: stalled.", True))
        if not GEARS[s.gear][0] <= s.speed <= GEARS[s.gear][1]:
            found.append(Sign("range", "This range does not reach that speed.", True))
        if self.work.radius < smallest_radius(s.width):
            found.append(Sign("binds", "The band twists in the curve and binds against its side.", True))
        if s.tension < 0.75 * LOOSE:
            found.append(Sign("off", "The band climbs off the wheels.", True))
        return found

    def _warnings(self, s: BenchSetting, n: dict[str, float], strip: float) -> list[Sign]:
        """What goes wrong more slowly."""
        found = []
        if n["chip_load"] < RUBS:
            found.append(Sign("rub", "Fine powder instead of chips, and a squeal; the edge shines."))
        if 0.9 < n["gullet_fill"] <= 1.3:
            found.append(Sign("full", "Chips come out pressed into lumps; some stay in the gullets."))
        if s.speed > BLUE * self.published_speed(s.edge):
            found.append(Sign("blue", "Chips come out blue and hot; the tooth tips turn dark."))
        if n["deviation"] > CROOKED:
            found.append(Sign("wander", "The cut runs off the line, bellied in the middle."))
        if n["teeth"] > MANY_TEETH:
            found.append(Sign("many", "The band rides on the work: far too many teeth share the feed."))
        if s.tension < LOOSE:
            found.append(Sign("slip", "The band slips on the lower wheel as the feed comes on."))
        if s.tension > TIGHT:
            found.append(Sign("crack", "Hair cracks show at the bottom of the gullets after a shift."))
        if s.set == "straight":
            found.append(Sign("scrape", "Sides of the cut are polished, the band warm: no set, no clearance."))
        if s.form != "regular" and n["heaviest"] > GRABS * strip:
            found.append(Sign("grab", "Teeth dig in and grab: the work jumps. Iron and steel want regular teeth."))
        if s.guide > 15.0:
            found.append(Sign("bare", "A long piece of bare band runs between the guide and the work."))
        if s.set == "raker" and self.work.hollow:
            found.append(Sign("chatter", "The cut rattles as teeth catch on the thin wall."))
        return found


def smallest_radius(width: float) -> float:
    """Of a band's width [mm], by the contour chart (common practice, from memory) [mm]."""
    return published.contour_radius(width)


def thickness_of(width: float) -> float:
    """Thickness of a band of that width [mm]."""
    return THIN if width < 16.0 else THICK


def _life(shop: Any, thickness: float) -> float:
    """Life at the shop's published start [min]."""
    from bandtrial_lessons.teaching import REFERENCE_SPACING_CHIP, cutting_life

    V = published.band_speed(shop.material.group, thickness, shop.stock.edge)
    return cutting_life(shop, V, REFERENCE_SPACING_CHIP, thickness)
