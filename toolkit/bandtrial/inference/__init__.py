"""Inference that knows no sawing: priors, the climb to a mode, draws and how far they can be trusted."""

from .affine import Affine
from .climb import Mode, climb, sound_covariance
from .hmc import Mover, drift, effective
from .importance import fit_generalised_pareto, pareto_smooth, resample
from .priors import Prior

__all__ = [
    "Affine",
    "Mode",
    "Mover",
    "Prior",
    "climb",
    "drift",
    "effective",
    "fit_generalised_pareto",
    "pareto_smooth",
    "resample",
    "sound_covariance",
]
