"""Inference that knows no sawing: priors, the climb to a mode, draws and how far they can be trusted."""

from .climb import Mode, climb, fit_generalised_pareto, pareto_smooth, sound_covariance
from .hmc import Affine, Mover, drift, effective, on_grid
from .priors import Prior

__all__ = [
    "Affine", "Mode", "Mover", "Prior", "climb", "drift", "effective", "fit_generalised_pareto", "on_grid",
    "pareto_smooth", "sound_covariance",
]  # fmt: skip
