"""What the measuring does to the truth: scatter, outliers, the least count of a stopwatch or a gauge."""

import numpy as np
from bandtrial.sawing import Numbers
from numpy.typing import NDArray

from bandtrial_lessons.shop.config import Noise

Array = NDArray[np.float64]
SIGNALS = ("cut_time", "motor_power", "deviation", "roughness")
UNIFORMS = 2 * len(SIGNALS)
"""Random numbers spent on each row, whatever is measured: a row is the same alone or in a batch."""


def measure(true: Numbers, sd: Numbers, step: float, uniform: Array, noise: Noise) -> Array:
    """true x exp(sd z), z normal and now and then `outlier_size` times as wide, rounded to whole steps >= 1.

    uniform : (n, 2) between 0 and 1, for z and for the outliers
    """
    from scipy.special import ndtri

    z = ndtri(np.clip(uniform[:, 0], 1e-12, None))
    z = np.where(uniform[:, 1] < noise.outlier_share, noise.outlier_size * z, z)
    return np.asarray(np.maximum(np.round(true * np.exp(sd * z) / step), 1.0) * step)


def measure_all(true: dict[str, Array], forced: Array, uniforms: Array, noise: Noise) -> dict[str, Array]:
    """Each signal as it is written down.

    true : signal -> true values (n,)
    forced : (n,) bool, set feed force
    uniforms : (n, UNIFORMS)
    """
    sd = {
        "cut_time": np.where(forced, noise.forced_time, noise.cut_time),
        "motor_power": noise.motor_power,
        "deviation": noise.deviation,
        "roughness": noise.roughness,
    }
    step = {
        "cut_time": noise.stopwatch,
        "motor_power": noise.power_step,
        "deviation": noise.deviation_step,
        "roughness": noise.roughness_step,
    }
    return {
        name: measure(true[name], sd[name], step[name], uniforms[:, 2 * i : 2 * i + 2], noise)
        for i, name in enumerate(SIGNALS)
    }
