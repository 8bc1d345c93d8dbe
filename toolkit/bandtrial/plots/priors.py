"""What was believed before beside what the data made of it."""

from __future__ import annotations

import numpy as np

from bandtrial.plots import style


def prior_and_posterior(ax, names, prior_low, prior_high, low, estimate, high, moved):
    """Prior ranges and posterior intervals of parameters (n,), each on its own prior's scale; returns ax.

    The scale puts the prior's 80 % range at -1 to 1, so that parameters of any unit stand in one picture.
    Parameters that the data moved carry a filled marker, the others an open one.
    """
    prior_low, prior_high = np.asarray(prior_low, float), np.asarray(prior_high, float)
    middle, half = (prior_low + prior_high) / 2, (prior_high - prior_low) / 2
    scaled = [(np.asarray(v, float) - middle) / half for v in (low, estimate, high)]
    y = np.arange(len(names))[::-1]
    ax.hlines(y, -1, 1, color="#bbbbbb", linewidth=7, label="before the trial, 80 %")
    ax.hlines(y, scaled[0], scaled[2], color=style.COLOURS[0], linewidth=1.8, label="after the trial, 80 %")
    moved = np.asarray(moved, bool)
    for mask, fill, label in (
        (moved, style.COLOURS[0], "the data moved it"),
        (~moved, "#ffffff", "they did not"),
    ):
        if mask.any():
            ax.plot(scaled[1][mask], y[mask], "o", color=fill, markeredgecolor=style.COLOURS[0], label=label)
    ax.set_yticks(y, list(names))
    ax.set_ylim(-0.7, len(names) - 0.3)
    ax.set_xlim(-2.5, 2.5)
    ax.grid(axis="y", visible=False)
    ax.set_xlabel(style.axis_label("place in the range believed before (-1 to 1)", None))
    style.legend(ax, loc="upper center", bbox_to_anchor=(0.4, -0.16), ncols=2)
    return ax
