"""Band speeds that were not logged: the machine's only speed, or what the shop usually runs, said as such."""

import numpy as np
import pandas as pd

from bandtrial import units, words
from bandtrial.study.model import Machine

NOT_LOGGED = "band speed not known"


def assumed_speeds(cuts: pd.DataFrame, machines: dict[str, Machine], system: str) -> tuple[np.ndarray, np.ndarray]:
    """Indicated band speeds V [m/min] without gaps, and what each filled one rests on ("" where it was logged).

    A machine with a single speed runs at it. Else the median of the machine's cuts in the material, of all its cuts, or
    the middle of its speeds is taken: such a cut keeps its time, but must not teach how speed wears a band.
    """
    logged = cuts["band_speed"].to_numpy(float)
    V, why, gap = logged.copy(), np.full(len(logged), "", object), np.isnan(logged)
    machine, material = (cuts[name].to_numpy(object) for name in ("machine", "material"))
    for name, one in machines.items():
        here = machine == name
        if not (here & gap).any():
            continue
        if one.only_speed == one.only_speed:
            V[here & gap] = one.only_speed
            continue
        for metal in pd.unique(material[here & gap]):
            alike = here & (material == metal)
            speed, rest = _usual(one, logged[alike & ~gap], logged[here & ~gap], metal)
            V[alike & gap] = speed
            why[alike & gap] = f"{NOT_LOGGED}: {units.show(speed, 'speed', system)} is taken, {rest}"
    return V, why


def _usual(machine: Machine, alike: np.ndarray, every: np.ndarray, metal: str) -> tuple[float, str]:
    """A machine's usual speed [m/min] in a material, from its logged ones, and what it rests on."""
    if len(alike):
        return float(np.median(alike)), f"the median of {words.count(len(alike), 'cut')} in {metal} on {machine.id}"
    if len(every):
        return float(np.median(every)), f"the median of {words.count(len(every), 'cut')} on {machine.id}"
    low, high = machine.band_speed_ranges[0][0], machine.band_speed_ranges[-1][1]
    return float(np.sqrt(low * high)), f"the middle of the speeds of {machine.id}"
