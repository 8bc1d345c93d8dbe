"""The forms: wear rate against speed and chip load, growth of the force and of the deviation with wear.

Each form is a function of constants c (name -> (N, 1, ...)) and of what it is a law of, x = V/V*, h [um], wear W [-];
arrays broadcast. `pick` evaluates all and takes each world's own. Wear rates are over that at x = 1, h = 10 um.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

Constants = dict[str, Any]
H0 = 10.0
"""Chip load of the published start [um]."""
EDGE = 0.05
"""Log width over which a cliff falls [-]."""


def pick(form: Any, forms: Sequence[Callable[..., Any]], c: Constants, *at: Any) -> Any:
    """forms[form](c, *at), each world its own form; every array (N or 1, ...), the worlds on axis 0."""
    form = np.asarray(form).ravel()
    if len(form) == 1:
        return forms[int(form[0])](c, *at)
    shape = np.broadcast_shapes(c["life"].shape, *(np.shape(one) for one in at))
    out = np.empty(shape)
    for number in np.unique(form).astype(int):
        mine = form == number
        own = {name: value[mine] for name, value in c.items()}
        out[mine] = forms[number](own, *(one[mine] if np.shape(one)[0] > 1 else one for one in at))
    return out


def _speed_power(c: Constants, x: Any) -> Any:
    """x^m (Taylor)."""
    return x ** c["speed_power"]


def _heat_onset(c: Constants, x: Any) -> Any:
    """x^m1 (1 + (x/x1)^8)^((m2 - m1)/8): m1 below the onset x1, m2 above it."""
    more = (c["power_hot"] - c["power_cold"]) / 8
    return x ** c["power_cold"] * ((1 + (x / c["heat_onset"]) ** 8) / (1 + c["heat_onset"] ** -8.0)) ** more


def _exponential(c: Constants, x: Any) -> Any:
    """exp(k (x - 1))."""
    return np.exp(c["exponential"] * (x - 1))


def _built_up_edge(c: Constants, x: Any) -> Any:
    """(1 - a) x^m + a x^-p: an edge that builds up and tears off at slow speeds."""
    return (1 - c["built_up"]) * x ** c["speed_power"] + c["built_up"] * x ** -c["built_up_power"]


def _abrasion_and_heat(c: Constants, x: Any) -> Any:
    """a x + (1 - a) exp(B (1 - x^-0.4)): abrasion, and diffusion (Arrhenius) at a temperature that goes as x^0.4."""
    return c["abrasion"] * x + (1 - c["abrasion"]) * np.exp(c["activation"] * (1 - x**-0.4))


def _chip_power(c: Constants, h: Any) -> Any:
    """(h/10)^a."""
    return (h / H0) ** c["chip_power"]


def _rub(c: Constants, h: Any) -> Any:
    """1 + (h_r/h)^r, over its value at 10 um."""
    return (1 + (c["rub_chip"] / h) ** c["rub_power"]) / (1 + (c["rub_chip"] / H0) ** c["rub_power"])


def _chipping(c: Constants, h: Any) -> Any:
    """1 + (h/h_c)^q, over its value at 10 um."""
    q = c["chipping_power"]
    return (1 + (h / c["chipping_chip"]) ** q) / (1 + (H0 / c["chipping_chip"]) ** q)


def _cliff(c: Constants, h: Any) -> Any:
    """(h/10)^(0.6 a) (1 + D / (1 + (h_c/h)^(1/0.05))): beyond h_c life falls to 1/(1 + D)."""
    return (h / H0) ** (0.6 * c["chip_power"]) * (1 + c["cliff"] / (1 + (c["chipping_chip"] / h) ** (1 / EDGE)))


def _beside(*terms: Callable[..., Any]) -> Callable[..., Any]:
    """(h/10)^(0.6 a) times the terms."""

    def rate(c: Constants, h: Any) -> Any:
        out = (h / H0) ** (0.6 * c["chip_power"])
        for term in terms:
            out = out * term(c, h)
        return out

    return rate


def _line(c: Constants, W: Any) -> Any:
    """j (1 - exp(-W/e)) + (1 - j) W."""
    return c["break_in"] * -np.expm1(-W / c["break_in_wear"]) + (1 - c["break_in"]) * W


def _power(c: Constants, W: Any) -> Any:
    """W^p."""
    return W ** c["dulling_power"]


def _three_stages(c: Constants, W: Any) -> Any:
    """j (1 - exp(-W/e)) + (1 - j) ((1 - s) W + s W^q): break-in, even wear, a quick end."""
    s, j = c["third_share"], c["break_in"]
    return j * -np.expm1(-W / c["break_in_wear"]) + (1 - j) * ((1 - s) * W + s * W ** c["third_power"])


def _late(c: Constants, W: Any) -> Any:
    """((W - w)/(1 - w))^p beyond w, hardly anything before."""
    return 0.03 * W + (np.maximum(W - c["late"], 0.0) / (1 - c["late"])) ** c["dulling_power"]


def _deviates_power(c: Constants, W: Any) -> Any:
    """1 + k W^p."""
    return 1 + c["deviation_growth"] * W ** c["deviation_power"]


def _deviates_late(c: Constants, W: Any) -> Any:
    """1 + k ((W - w)/(1 - w))^p beyond w."""
    past = np.maximum(W - c["deviation_onset"], 0.0) / (1 - c["deviation_onset"])
    return 1 + c["deviation_growth"] * past ** c["deviation_power"]


def _deviates_line(c: Constants, W: Any) -> Any:
    """1 + k W."""
    return 1 + c["deviation_growth"] * W


def _tension(c: Constants, W: Any) -> Any:
    """1: it goes with the band's tension, not with its wear."""
    return 1.0 + 0.0 * W


SPEED_FORMS = (_speed_power, _heat_onset, _exponential, _built_up_edge, _abrasion_and_heat)
CHIP_FORMS = (_chip_power, _beside(_rub), _beside(_chipping), _beside(_rub, _chipping), _cliff)
DULLING_FORMS = (_line, _power, _three_stages, _late)
DEVIATION_FORMS = (_deviates_power, _deviates_late, _deviates_line, _tension)
STRAYING = (2, 3)
"""Numbers of the deviation's forms whose readings of a band stray slowly together."""
SHARE_FORMS = (
    lambda c, W: 1.0 + 0.0 * W,
    lambda c, W: 0.0 * W,
    lambda c, W: c["own"] + 0.0 * W,
    lambda c, W: c["own"] + (1 - c["own"]) * np.minimum(W, 1.0),
)
"""Share of what wear adds to the force that is the edge's own: all, none, a constant, more with wear."""
