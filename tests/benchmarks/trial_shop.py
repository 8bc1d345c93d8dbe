"""A virtual shop with one job to find the setting for: makes trial cuts, and knows how far off an answer is.

What the shops are: `shop.random_shop(seed, kind)` with the first of its metals and its band stock (6 tpi), work
20 to 60 mm thick. Its physics are not the model's: wear is abrasion plus heat (Usui), times rubbing and chipping of
edges, so log life bends against speed and kinks against chip load; a dull edge adds a force of its own, so that power
grows less, and a set force thins chips more slowly, where chips are heavy; bands come in batches. Two things are made
plainer than drawn: LIFE and DULLING below, both after the sample study. The best setting is over speed, feed and
change-out, inside the ranges of the machine, motor power, gullet fill and chip loads of 5 to 50 um, band half worn.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
from bandtrial import published, sawing, wear
from bandtrial_lessons.shop import NoSettingError, Shop, random_shop
from bandtrial_lessons.shop.as_study import study_of

KINDS = {"bent_life": "vertical", "strong_chip": "vertical", "force_feed_thinning": "weight_feed"}
"""Kinds of shop whose physics are not the model's, and the machine the job is on."""
TRAVEL = 100.0
"""Cut travel of every trial cut [mm]."""
LIFE = (350.0, 900.0)
"""Minutes a band lasts at the published start: the metal is made harder or softer to it. The dull bands of the sample
study lasted 376 to 917 minutes (one, 50); shops as they are drawn, 220 to 3,100. 100 minutes on three bands leave
nearly all of them sound."""
NOISE = {"motor_power": 0.05, "deviation": 0.15}
DULLING = 1.7
"""Readings and dulling as plain as in the sample study (power grows by half in a wear life, read to 5 %): shops as they
are drawn show some 1.7 times less."""
DRAWS = 800


class TrialShop:
    """Shop `seed` of a kind, its machine and the first of its materials that bands outlast a trial in.

    best: the best setting within limits; minutes: of trial cutting so far.
    """

    def __init__(self, kind: str, seed: int, machine: str | None = None):
        self.machine_id = machine or KINDS[kind]
        self.shop = Shop(plain_signals(random_shop(seed, kind)))
        self.machine = self.shop.machines[self.machine_id]
        self.stock = self.shop.stock
        self.thickness = float(np.random.default_rng([seed, 11]).uniform(20.0, 60.0))
        self.material = next(iter(self.shop.materials))
        self._set_life(float(np.exp(np.random.default_rng([seed, 12]).uniform(*np.log(LIFE)))))
        self.best = self.shop.best_setting(self.material, self.thickness, machine=self.machine_id)
        self.minutes = 0.0

    @property
    def job(self) -> dict:
        """The job as `recommend` and `plan` take it."""
        names = {"machine": self.machine_id, "stock": self.stock.id, "material": self.material}
        return names | {"thickness_mm": self.thickness}

    def published_start(self) -> tuple[float, float]:
        """(true band speed [m/min], feed) at 10 um: rate, or the force that a new band in truth takes for it."""
        group = self.shop.materials[self.material].group
        V = self.reachable(published.band_speed(group, self.thickness, self.stock.edge))
        return V, self.feed(V, 10.0)

    def feed(self, V: float, h: float) -> float:
        """Feed that gives a chip load [um] with a band just broken in, inside the machine's range."""
        if self.machine.feed == "force":
            mechanics = self.shop.mechanics(self.machine_id, material=self.material)
            return float(np.clip(mechanics.feed_force(h, self.thickness, 0.05), *self.machine.feed_force_range))
        return float(np.clip(sawing.feed_rate(V, h, self.stock.tooth_spacing), *self.machine.feed_rate_range))

    def reachable(self, V: float) -> float:
        """The true band speed nearest to V that the dial can show, as the shop's speed check has it [m/min]."""
        shown = float(self.machine.indicated_speed(V))
        near = [float(np.clip(shown, *pair)) for pair in self.machine.band_speed_ranges]
        return float(self.machine.true_speed(min(near, key=lambda x: abs(np.log(x / shown)))))

    def cut(self, band: str, indicated: float, feed: float, cuts: int, minutes: float = np.inf) -> str:
        """Make trial cuts, one at least and none begun after `minutes`; a band that is new or off is replaced.

        Returns the band's id.
        """
        if band not in self.shop.bands or not self.shop.bands[band].alive:
            band = self.shop.new_band(machine=self.machine_id)
        row = {"band": band, "band_speed": indicated, "work_thickness": self.thickness, "cut_travel": TRAVEL}
        row |= {"material": self.material, "feed_force" if self.machine.feed == "force" else "feed_rate": feed}
        left, some = minutes, cuts if minutes == np.inf else 1
        while cuts > 0 and left > 0:
            log = self.shop.run(pd.DataFrame([row] * some))
            spent = float((log["cut_time"] * log["pieces"]).sum())
            cuts, left = cuts - some, left - spent
            some = int(np.clip(0.8 * left / spent * some, 1, max(cuts, 1)))
            self.minutes += spent
            if not self.shop.bands[band].alive:
                break
        return band

    def fit(self):
        """(fit, study) of the log so far."""
        study = study_of(self.shop)
        return wear.fit(study, draws=DRAWS), study

    def regret(self, indicated: float, feed: float, change_after: float | None = None) -> float:
        """True long-run cost over the best possible within limits, minus 1."""
        return self.cost(indicated, feed, change_after) / self.best.cost - 1

    def cost(self, indicated: float, feed: float, change_after: float | None = None) -> float:
        """True long-run cost per area of a setting, at the speed the dial truly gives."""
        V = self.shop.true_speed(indicated, self.machine_id)
        at = {"machine": self.machine_id, "change_after": change_after}
        return float(self.shop.true_cost(V, feed, self.material, self.thickness, **at))

    def broken(self, indicated: float, feed: float) -> list[str]:
        """Limits that a setting truly breaks, by more than 1 % of slack for the dial's own error."""
        V = float(self.shop.true_speed(indicated, self.machine_id))
        kept = self.shop.within_limits(V, feed, self.material, self.thickness, machine=self.machine_id)
        return [name for name, ok in kept.items() if not ok]

    def dead(self) -> int:
        """Bands that have ended so far."""
        return sum(not band.alive for band in self.shop.bands.values())

    def _set_life(self, minutes: float) -> None:
        """Scale the life of the job's material so that a band lasts `minutes` at the published start."""
        V, feed = self.published_start()
        run = self.shop.long_run(V, feed, self.material, self.thickness, machine=self.machine_id)
        config = self.shop.config
        first = config.materials[0]
        law = replace(first.law, reference_life=first.law.reference_life * minutes / float(run.minutes))
        self.shop = Shop(replace(config, materials=(replace(first, law=law), *config.materials[1:])))


def plain_signals(config):
    """The shop with signals as plain as those of the sample study."""
    stock = tuple(replace(s, dulling=DULLING * s.dulling) for s in config.stock)
    return replace(config, stock=stock, noise=replace(config.noise, **NOISE))


def shops(kind: str, count: int, first: int = 0):
    """The first `count` shops of a kind, from seed `first`, that have a job."""
    seed = first
    while count:
        try:
            yield seed, TrialShop(kind, seed)
            count -= 1
        except NoSettingError:
            pass
        seed += 1
