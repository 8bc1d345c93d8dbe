"""Materials without a group, a hardness or a speed: their start is what the shop cut them with."""

from dataclasses import replace
from typing import Any

import numpy as np

from bandtrial import units, words
from bandtrial.published.materials import find
from bandtrial.published.own import own_name
from bandtrial.study.model import Material
from bandtrial.study.problems import Problems
from bandtrial.study.settings import Settings
from bandtrial.study.toml import FILE
from bandtrial.study.typed import Sheet

_HOW = 'give hardness = "240 HB" or start_speed = "120 ft/min" to begin elsewhere'


def own_starts(known: Settings, cuts: Sheet, problems: Problems) -> dict[str, Material]:
    """The materials, those of which nothing is known with the median speed of their own cuts as their start."""
    materials = dict(known.materials)
    system = str(known.info["units"])
    speeds = _true_speeds(known, cuts)
    for name, line in known.undecided.items():
        V = speeds.get(name, np.empty(0))
        if len(V):
            figure = units.show(float(np.median(V)), "speed", system)
            why = f"the median of its own {words.count(len(V), 'cut')}"
            materials[name] = replace(materials[name], group=own_name("none", "start", figure, why))
        if not problems.room("warning", FILE):
            continue
        problems.add("warning", FILE, f"{find(materials[name].group).note.rstrip('.')}; {_HOW}", row=line,
                     column=f"materials.{name}")  # fmt: skip
    return materials


def _true_speeds(known: Settings, cuts: Sheet) -> dict[str, np.ndarray]:
    """True band speeds [m/min] of the cuts in each undecided material that was cut."""
    indicated = cuts.frame["band_speed"].to_numpy(float)
    found: dict[str, np.ndarray] = {}
    together: Any = cuts.frame.groupby(["material", "machine"], sort=False).indices
    for (material, machine), at in together.items():
        if material in known.undecided and machine in known.machines:
            V = known.machines[machine].true_speed(indicated[at])
            found[material] = np.append(found.get(material, np.empty(0)), V[np.isfinite(V)])
    return found
