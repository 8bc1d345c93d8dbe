"""Why a recommendation is off: whether the best setting was in reach, and which way the model leans there."""

from __future__ import annotations

import numpy as np
from bandtrial.recommend.job import job_of
from bandtrial.recommend.longrun import evaluate
from bandtrial.recommend.tried import tried

FIELDS = {
    "reach": "how far beyond the tried region the best setting lies, in steps allowed (1: just in reach)",
    "speed": "log of recommended over best band speed",
    "bite": "log of recommended over best chip load, or force per tooth",
    "life": "log of the model's over the true area per band, at the best setting",
    "by_speed": "d log area per band / d log speed, the model's less the true one, at the best setting",
    "by_bite": "the same by chip load or force per tooth",
    "change": "what a better change-out point alone would save, as a share",
}
HALF = 0.1
"""Of the logs over which slopes are taken, to either side."""


def diagnose(fit, study, shop, got) -> dict[str, float]:
    """The figures of FIELDS for one shop."""
    job, best, s = job_of(study, *shop.job.values()), shop.best, got.setting
    bite = float(job.bite_of(best.band_speed, best.feed))
    V = best.band_speed * np.exp(HALF * np.array([0, 1, -1, 0, 0]))
    b = bite * np.exp(HALF * np.array([0, 0, 0, 1, -1]))
    model = np.log(np.median(evaluate(fit.thinned(240), job, V, b).area[:, :, -1], axis=0))
    truth = shop.shop.long_run(V, job.feed_of(V, b), shop.material, shop.thickness, machine=shop.machine_id)
    off = model - np.log(truth.area)
    cost = shop.cost(s.indicated, s.feed, s.change_after)
    points = [*(s.life.value * np.geomspace(0.2, 3.0, 30)), None]
    return {
        "reach": float(tried(fit, study, job).outside(job, best.band_speed, bite)),
        "speed": float(np.log(s.band_speed / best.band_speed)),
        "bite": float(np.log(job.bite_of(s.band_speed, s.feed) / bite)),
        "life": float(off[0]),
        "by_speed": float((off[1] - off[2]) / (2 * HALF)),
        "by_bite": float((off[3] - off[4]) / (2 * HALF)),
        "change": float(1 - min(shop.cost(s.indicated, s.feed, after) for after in points) / cost),
    }


def summary(all_of: list[dict[str, float]]) -> str:
    """Quartiles over shops, a line for each figure."""
    if not all_of:
        return ""
    lines = ["why off: quartiles over the shops"]
    for name, meaning in FIELDS.items():
        quartiles = np.quantile([one[name] for one in all_of], [0.25, 0.5, 0.75])
        lines.append(f"  {name:<9}" + "".join(f"{q:8.3f}" for q in quartiles) + f"   {meaning}")
    return "\n".join(lines)
