"""The cutting-rate and blade-wear model: one likelihood for signals and band ends on one wear clock."""

from .fit import Fit, FitError
from .fitting import fit

__all__ = ["Fit", "FitError", "fit"]
