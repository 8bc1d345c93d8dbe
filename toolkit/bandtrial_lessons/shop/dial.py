"""A dial that lies: true band speed against the indicated one."""

import numpy as np
from bandtrial.sawing import Numbers

from bandtrial_lessons.shop.config import VirtualMachine


def coefficients(machine: VirtualMachine) -> tuple[float, float]:
    """a and b of true = a x + b x^2, x indicated [m/min]."""
    speeds = [speed for pair in machine.sheet.band_speed_ranges for speed in pair]
    middle, half = (max(speeds) + min(speeds)) / 2.0, (max(speeds) - min(speeds)) / 2.0
    b = machine.dial_bend / half if half > 0 else 0.0
    return machine.dial - b * middle, b


def true_speed(machine: VirtualMachine, indicated: Numbers) -> Numbers:
    """True band speed x (d + e (x - middle) / half) [m/min] at an indicated speed x; d dial, e its bend."""
    a, b = coefficients(machine)
    return indicated * (a + b * np.asarray(indicated))


def indicated_speed(machine: VirtualMachine, true: Numbers) -> Numbers:
    """Indicated band speed [m/min] that gives a true one. Inverse of `true_speed`."""
    a, b = coefficients(machine)
    true = np.asarray(true, dtype=float)
    return true / a if b == 0.0 else 2.0 * true / (a + np.sqrt(a**2 + 4.0 * b * true))
