"""Inference that knows no sawing: priors, the climb to a mode, draws and how far they can be trusted."""

from .climb import Mode, climb, sound_covariance
from .hmc import Mover, drift, effective
from .importance import fit_generalised_pareto, pareto_smooth, resample
from .priors import Prior, draw_spread, exchangeable

__all__ = [
    "Mode",
    "Mover",
    "Prior",
    "climb",
    "draw_spread",
    "drift",
    "effective",
    "exchangeable",
    "fit_generalised_pareto",
    "pareto_smooth",
    "resample",
    "sound_covariance",
]
