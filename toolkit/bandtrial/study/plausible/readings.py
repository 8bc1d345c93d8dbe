"""Readings that can't be what they say: a meter that stands still, a chip or an energy that no saw has."""

from itertools import pairwise

import numpy as np
import pandas as pd

from bandtrial.study.plausible.entries import Entries

STILL = 8
"""Equal readings in a row, while the cuts differ, from which a meter is asked about."""
CHIPS = (0.05, 150.0)
"""Chip loads that are no slip [um]: published 5 to 50 (sarwar_2010, read); light weight feeds 0.4 (a shop's own log);
three times the greatest for coarse teeth in soft metal, assumed."""
ENERGIES = (0.15, 200.0)
"""Motor energy over sawn volume that is no slip [J/mm3]: published 3 to 9 for steels (sarwar_2009, memory), soft metals
0.5 to 1 (textbooks, memory), a light chip or a dull band many times as much; assumed."""
KERF = 1.3
"""Kerf of a band that nobody measured [mm]; assumed."""


def standing_still(e: Entries) -> None:
    """A motor power that is the same to the last digit, cut after cut, though speed, feed or size change."""
    power = e["motor_power"]
    for machine in pd.unique(e["machine"]):
        at = np.flatnonzero((e["machine"] == machine) & (power > 0))
        begins = [0, *(np.flatnonzero(np.diff(power[at]) != 0) + 1).tolist(), len(at)]
        for begin, end in pairwise(begins):
            if end - begin >= STILL and _differ(e, at[begin:end]):
                first, to = int(at[begin]), e.sheet.rows[at[end - 1]]
                words = f"{e.typed('motor_power', first)} in {end - begin} cuts in a row, to row {to}"
                e.ask("motor_power", first, f"{words}, though these differ; does the meter stand still?")


def _differ(e: Entries, run: np.ndarray) -> bool:
    """Whether cuts differ so much, or are so many, that the same reading can't belong to all."""
    rate = e["Z"][run]
    return bool(np.nanmax(rate) > 1.25 * np.nanmin(rate)) or len(run) >= 3 * STILL


def possible(e: Entries, asked: dict[int, str]) -> None:
    """Chips and energies beyond what sawing has, whatever the rest of the log says."""
    used = (e["operation"] == "sawing") & (e["exclude"] == "")
    h = e["h"]
    with np.errstate(invalid="ignore", divide="ignore"):
        odd = used & ((h < CHIPS[0]) | (h > CHIPS[1]))
        energy = e["motor_power"] * 60 / (e["Z"] * 100 * KERF)
        wasteful = used & ~odd & (e["motor_power"] > 0) & ((energy < ENERGIES[0]) | (energy > ENERGIES[1]))
    for n in (n for n in np.flatnonzero(odd).tolist() if n not in asked):
        asked[n] = "cut_time"
        e.ask("cut_time", n, f"{e.typed('cut_time', n)}: with its travel and speed each tooth took {h[n]:.3g} µm, and "
              f"saw teeth take {CHIPS[0]:g} to {CHIPS[1]:g}; check time, travel, speed and their units",
              "warning")  # fmt: skip
    for n in (n for n in np.flatnonzero(wasteful).tolist() if n not in asked):
        e.ask("motor_power", n, f"{e.typed('motor_power', n)}: with its rate that is {energy[n]:.3g} J/mm³, and "
              f"sawing takes {ENERGIES[0]:g} to {ENERGIES[1]:g}; check power, time and their units",
              "warning")  # fmt: skip


def in_range(e: Entries, asked: dict[int, str]) -> None:
    """Feed rates and forces that the machine, as study.toml has it, can't be set to."""
    for name, one in e.settings.machines.items():
        for column, span in (("feed_rate", one.feed_rate_range), ("feed_force", one.feed_force_range)):
            low, high = span or (0.0, np.inf)
            value = e[column]
            for n in np.flatnonzero((e["machine"] == name) & ((value > 1.1 * high) | (value < low / 1.1))).tolist():
                asked.setdefault(n, column)
                e.ask(column, n, f"{e.typed(column, n)} is outside the {column.replace('_', ' ')} of {name}, "
                      f"{e.in_its_unit(column, n, low)} to {e.in_its_unit(column, n, high)}", "warning")  # fmt: skip


def left_out(e: Entries) -> None:
    """A log of which most is left out."""
    out = e["exclude"] != ""
    if len(e) >= 4 and out.mean() > 0.5:
        e.problems.add("question", e.sheet.file, f"{out.sum()} of {len(e)} cuts are left out, each with a reason in "
                       "exclude; is that meant? An empty cell or no keeps a cut", column="exclude")  # fmt: skip
