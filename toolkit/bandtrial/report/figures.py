"""The report's pictures: each with a title, a caption, words for who cannot see it, and its own bytes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from bandtrial.plots import evidence, settings, style
from bandtrial.plots.marks import Words, explained, layer
from bandtrial.plots.style import thinned
from bandtrial.published.speeds import speed_range
from bandtrial.recommend.longrun import evaluate
from bandtrial.report import words
from bandtrial.report.page import data_uri
from bandtrial.sawing import WORN
from bandtrial.watch import charts
from bandtrial.wear.signals import in_words

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from bandtrial.recommend.answer import Recommendation
    from bandtrial.recommend.job import Job
    from bandtrial.report.answers import Answer
    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


MOST_MARKS = 400  # of a picture: more would only cover each other
AT_ONCE = 1000  # bands of which lives are drawn at once
SPEEDS = 41  # points of a curve over band speed
DRAWS = 320


@dataclass(frozen=True)
class Picture:
    """A drawing as it stands in the page. `alt` says in words what it shows; `marks` lie over it (`plots.marks`);
    `figure` is what it was drawn from."""

    title: str
    caption: str
    alt: str
    source: str
    marks: str
    figure: Figure


def picture(fig: Figure, title: str, caption: str, alt: str, words: Words | None = None) -> Picture:
    """The figure as a Picture; drawn as lines, so that print is sharp at any size. words: what its named marks say."""
    drawing, stand_for = style.svg(fig)
    marks = layer(fig, words) if words else ""
    return Picture(title, caption + explained(stand_for), alt, data_uri(drawing), marks, fig)


def rate(study: Study, cuts: pd.DataFrame) -> Picture | None:
    """Cutting rate of every cut used; None where none is."""
    used = cuts[(cuts["operation"] == "sawing") & (cuts["exclude"] == "")]
    if used.empty:
        return None
    fig, ax = style.figure(6.4, 3.2)
    shown = used.iloc[sample_of(used["material"])]
    area_rate = shown["feed_rate"] * shown["work_thickness"] / 100
    settings.cutting_rate(ax, shown["band_speed"], area_rate, shown["material"], study.units, shown["cut"])
    return picture(
        fig,
        "How fast the shop cuts",
        f"Each mark is a logged cut: area sawn per minute of cutting.{_sampled(len(shown), len(used), 'cut')}",
        f"Cutting rate against true band speed for {words.count(len(used), 'cut')}.",
        study.lines.of,
    )


def sample_of(groups: pd.Series[Any], most: int = MOST_MARKS) -> np.ndarray:
    """Places of at most `most` of the rows, evenly over the log of each group, in order; all where there are fewer.

    A group with few rows keeps a tenth of its even share of the drawing at least.
    """
    codes, names = pd.factorize(groups)
    if len(codes) <= most:
        return np.arange(len(codes))
    least = most // (10 * len(names))
    parts = []
    for n in range(len(names)):
        own = np.flatnonzero(codes == n)
        share = max(int((most - least * len(names)) * len(own) / len(codes)), 1) + least
        parts.append(own[thinned(len(own), share)])
    return np.sort(np.concatenate(parts))[:most]


def _sampled(shown: int, n: int, word: str) -> str:
    """What a caption adds where not everything is drawn."""
    return "" if shown == n else f" Drawn are {shown:,} of {words.count(n, word)}, evenly over the log."


def signals(fit: Fit, study: Study) -> list[Picture]:
    """Each sharpness signal over wear used, data and fit."""
    found, by_signal = [], fit.residuals.groupby("signal")
    for signal in fit.signals:
        fig, ax = style.figure(6.4, 3.4)
        evidence.fitted_signal(ax, fit, signal)
        end = np.quantile(evidence.growth(fit.thinned(DRAWS), signal, [1.0]), [0.5, 0.1, 0.9])
        name = in_words(signal)
        found.append(
            picture(
                fig,
                f"{name[0].upper()}{name[1:]} as the band dulls",
                "Marks are readings, brought to one setting by the fit; the line and its shades are the fit."
                + _sampled(*_marks_of(by_signal.get_group(signal)["band"]), "reading"),
                f"At a typical band's end the {name} is {words.between(*end)} times a fresh band's.",
                study.lines.of,
            )
        )
    return found


def _marks_of(bands: pd.Series[Any]) -> tuple[int, int]:
    """How many readings of a signal are drawn, of how many."""
    shown, rest, _ = evidence.marks(bands)
    return sum(map(len, shown.values())) + len(rest), len(bands)


def life(fit: Fit, study: Study, answer: Answer) -> Picture:
    """Band life over band speed for a job: its bands, the published start, the recommended speed."""
    r = answer.recommendation
    job, system = r.job, study.units
    low, high = _speed_span(fit, answer, r)
    V = np.geomspace(low, high, SPEEDS)
    h = r.setting.chip_load
    few = fit.thinned(DRAWS)
    names = answer.names | {"coolant": job.coolant}
    fig, ax = style.figure(6.4, 3.6)
    settings.life_against_speed(ax, V, few.log_tau(V, h, job.thickness, **names), system)
    bands, speed, minutes, ended = band_minutes(few, study, answer, h, job)
    marks = thinned(len(speed), MOST_MARKS)
    settings.band_points(ax, speed[marks], minutes[marks], ended[marks], system, bands[marks])
    settings.published_start(ax, _published(job), system)
    settings.recommended(ax, r.setting.band_speed, system)
    settings.dial(ax, job.machine, system)
    style.legend(ax)
    return picture(
        fig,
        "Band life against band speed",
        f"At a chip load of {words.quantity(h, 'chip_load', system)}. Life is the time each tooth "
        "spends in the work. Marks are bands at the mean speed of their work, their minutes brought to this "
        f"job by the fit.{_sampled(len(marks), len(speed), 'band')}",
        f"Life falls as speed grows; {int(np.sum(ended))} of {len(ended)} bands had ended.",
        study.lines.of_bands,
    )


def band_minutes(
    fit: Any, study: Study, answer: Any, chip_load: float, job: Any
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """What the bands of this material and machine did: (their names, mean speed, contact minutes, ended by wear).

    Minutes are brought to the job, E tau(mean speed, job), so that a band of mixed work can be drawn.
    """
    cuts = fit.data
    mine = cuts[(cuts["machine"] == answer.machine) & (cuts["material"] == answer.material)]
    codes, bands = pd.factorize(mine["band"])
    contact = mine["contact_minutes"].to_numpy(float)
    log_speed = np.log(mine["band_speed"].to_numpy(float))
    speed = np.exp(np.bincount(codes, contact * log_speed) / np.bincount(codes, contact))
    setting = (chip_load, job.thickness)
    tau = [np.exp(np.median(fit.log_tau(speed[i : i + AT_ONCE], *setting, **answer.names, coolant=job.coolant), axis=0))
           for i in range(0, len(speed), AT_ONCE)]  # fmt: skip
    wear = fit.wear_used().set_index("band")["median"].reindex(bands).to_numpy(float)
    ended = study.bands.set_index("band")["end"].reindex(bands).isin(WORN).to_numpy()
    return np.asarray(bands, object), speed, wear * np.concatenate([*tau, []]), ended


def cost(fit: Fit, study: Study, answer: Answer) -> Picture:
    """Expected long-run cost over band speed at the recommended bite, and what the marks on it are."""
    r = answer.recommendation
    job = r.job
    low, high = _speed_span(fit, answer, r)
    V = np.geomspace(low, high, SPEEDS)
    bite = float(job.bite_of(r.setting.band_speed, r.setting.feed))
    draws = evaluate(fit.thinned(DRAWS), job, V, bite).cost(job.prices)
    best_age = np.argmin(draws.mean(axis=0), axis=1)
    chosen = np.take_along_axis(draws, best_age[None, :, None], axis=2)[..., 0]
    fig, ax = style.figure(6.4, 3.4)
    settings.cost_against_speed(ax, V, chosen, study.units, study.currency)
    settings.published_start(ax, _published(job), study.units)
    settings.recommended(ax, r.setting.band_speed, study.units)
    settings.dial(ax, job.machine, study.units)
    style.legend(ax)
    return picture(
        fig,
        "Cost against band speed",
        "Machine and labor, bands, changes and lost pieces per area, each speed with its own best moment to "
        "change the band; feed follows the speed at the recommended "
        f"{'force per tooth' if job.feed == 'force' else 'chip load'}.",
        f"Lowest near the recommended {words.quantity(r.setting.band_speed, 'speed', study.units)}.",
    )


def curve(study: Study, answer: Answer) -> Picture | None:
    """The curve between cost and output, where there is more than one point on it."""
    r = answer.recommendation
    points = sorted(r.curve, key=lambda row: row["output"])
    if len(points) < 2:
        return None
    fig, ax = style.figure(6.4, 3.2)
    ends = [("lowest cost", points[0]), ("highest output", points[-1])]
    settings.cost_and_output(ax, points, study.units, study.currency, ends)
    return picture(
        fig,
        "What more output costs",
        "No setting inside the limits is both cheaper and faster than a point of this line.",
        f"From {words.quantity(points[0]['output'], 'rate', study.units)} to "
        f"{words.quantity(points[-1]['output'], 'rate', study.units)}.",
    )


def priors(rows: Sequence[evidence.Learnt]) -> Picture | None:
    """Prior ranges beside posterior intervals."""
    if not rows:
        return None
    fig, ax = style.figure(6.4, 0.9 + 0.27 * len(rows))
    evidence.prior_and_posterior(ax, rows)
    moved = sum(row.moved for row in rows)
    return picture(
        fig,
        "Before and after the trial",
        "Each parameter on the scale of what was believed before: its 80 % range runs from -1 to 1.",
        f"The data moved {moved} of {len(rows)} parameters.",
    )


def wear_used(bands: Any) -> Picture:
    """Wear used of bands in service (`watch.BandState`), the most worn on top."""
    fig, ax = style.figure(6.4, 1.2 + 0.32 * len(bands))
    evidence.wear_used(ax, bands)
    worst = bands[0]
    return picture(
        fig,
        "Wear used by the bands in service",
        "At 1 a typical band is worn out; bars are the middle of what is likely, lines the 80 % interval.",
        f"{worst.band} is the most worn, at "
        f"{words.between(worst.wear_used, worst.wear_used_low, worst.wear_used_high)}.",
    )


def alarm_chart(rows: Any, alarm: Any, limit: Any, words: Words | None = None) -> Picture:
    """The control chart of one alarm from the residuals of its band or machine."""
    upper, lower = charts.cumulative_sums(rows["score"].to_numpy(float))
    fig, ax = style.figure(6.4, 2.6)
    title = f"{alarm.kind} {alarm.name}: {in_words(alarm.signal)}"
    evidence.chart(ax, upper, lower, limit, list(rows["cut"].astype(str)), title)
    return picture(fig, title, "The sum must stay between the dotted lines.", str(alarm), words)


def _published(job: Job) -> tuple[float, float, float]:
    """Published band speeds low, typical, high [m/min] of a job."""
    speeds = speed_range(job.material.group, job.thickness, job.stock.edge, job.coolant)
    return speeds.low, speeds.typical, speeds.high


def _speed_span(fit: Fit, answer: Answer, r: Recommendation) -> tuple[float, float]:
    """Band speeds [m/min] to draw: what was tried, recommended and published, and a little more."""
    cuts = fit.data
    tried = cuts.loc[(cuts["machine"] == answer.machine) & (cuts["material"] == answer.material), "band_speed"]
    values = [*tried.to_numpy(float), r.setting.band_speed, r.published_band_speed]
    return min(values) / 1.15, max(values) * 1.15
