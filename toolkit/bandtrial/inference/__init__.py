"""Inference that knows no sawing: priors, the fit, draws and how far they can be trusted."""
from .climb import Mode, climb
from .importance import fit_generalised_pareto, pareto_smooth, resample
from .priors import Prior, draw_spread, exchangeable
from .proposal import sound_covariance
from .sample import Draws, sample

__all__ = ["Draws", "Mode", "Prior", "climb", "draw_spread", "exchangeable", "fit_generalised_pareto",
           "pareto_smooth", "resample", "sample", "sound_covariance"]
