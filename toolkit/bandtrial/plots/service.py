"""Bands in service: how much of a typical band's life each has used."""

from __future__ import annotations

import numpy as np

from bandtrial.plots import style


def wear_used(ax, bands, middle, low, high, ringing=()):
    """Wear used (n,) of each band with its 80 % interval, the most worn on top; returns ax.

    A band in `ringing` (its alarm rings) carries a cross. The dotted line is where a typical band is worn out.
    """
    y = np.arange(len(bands))[::-1]
    middle, low, high = (np.asarray(v, float) for v in (middle, low, high))
    ax.barh(y, middle, height=0.5, color="#cccccc", edgecolor="#333333", linewidth=0.6)
    doubt = [(middle - low).tolist(), (high - middle).tolist()]  # matplotlib takes an array of one for a number
    ax.errorbar(middle, y, xerr=doubt, fmt="none", ecolor="#000000", capsize=3, label="80 %")
    loud = np.isin(np.asarray(bands, str), list(ringing))
    if loud.any():
        ax.plot(middle[loud], y[loud], "X", color=style.COLOURS[1], markersize=8, markeredgecolor="#000000",
                label="alarm rings")  # fmt: skip
    ax.axvline(1.0, label="a typical band is worn out", **style.PUBLISHED)
    ax.set_yticks(y, list(bands))
    ax.set_ylim(-0.6, len(bands) - 0.4)
    ax.set_xlim(0, max(1.1, 1.05 * float(high.max())))
    ax.grid(axis="y", visible=False)
    ax.set_xlabel(style.axis_label("wear used", None))
    ax.set_ylabel("band in service")
    return style.legend(ax, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=3)


def past_forecasts(ax, past):
    """Forecasts of the end (watch.record.Past) as they were made, against the end that came; returns ax.

    Each lies at the share of the life at which it was made (up), its 80 % interval and middle in lives (along); open
    where the interval missed. The end came at 1.
    """
    for held, marks in ((True, {"mfc": "#000000"}), (False, {"mfc": "#ffffff"})):
        mine = [one for one in past if one.held == held]
        if not mine:
            continue
        share = np.array([one.share for one in mine])
        life = np.array([one.came / (1 - one.share) for one in mine])
        middle, low, high = (share + np.array([getattr(one, name) for one in mine]) / life
                             for name in ("said", "low", "high"))  # fmt: skip
        doubt = [(middle - low).tolist(), (high - middle).tolist()]
        label = "interval held" if held else "interval missed"
        ax.errorbar(middle, share, xerr=doubt, fmt="o", color="#000000", capsize=2, markersize=5, lw=0.8, label=label,
                    **marks)  # fmt: skip
    ax.axvline(1.0, label="the end that came", **style.PUBLISHED)
    ax.set_ylim(0, 1)
    ax.set_xlim(left=0)
    ax.set_xlabel("end as foretold, in lives of the band")
    ax.set_ylabel("share of life when foretold")
    return style.legend(ax, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=3)
