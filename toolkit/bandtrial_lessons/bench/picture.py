"""Drawings of the bench as SVG: the tooth in its work, moving or still, and the cost over speed.

They are text that the browser draws, so that a control is followed within a few milliseconds; motion runs in the
browser and asks nothing of the kernel. The chip and the rounding of the edge are drawn far too thick, and it says so.
"""

from __future__ import annotations

from html import escape

import numpy as np
from bandtrial import sawing, units, words
from bandtrial.plots.style import COLOURS

from bandtrial_lessons.bench.saw import BenchCut, BenchSaw

WIDTH, HEIGHT = 440, 250
TOP, BOTTOM, BACK = 30, 220, 222
"""Upper and lower side of the work, and where the band's teeth begin, in the drawing."""
PER_MM, LEAST, MOST = 18.0, 26.0, 110.0
"""Tooth spacing drawn for each millimetre of it, and at least and at most."""
DEEP = {"regular": 0.45, "skip": 0.36, "hook": 0.5}
"""Depth of a gullet over the tooth spacing, and `FLAT`: of its bottom; `RAKE`: how far a tooth leans forward [-]."""
FLAT = {"regular": 0.05, "skip": 0.4, "hook": 0.2}
RAKE = {"regular": 0.0, "skip": 0.0, "hook": 0.1}
METAL, BAND, CHIP = "#cfd4d9", "#5b6770", COLOURS[1]
THICKER = 60
"""Times that a chip is drawn thicker than it is."""
CURL = "M" + " L".join(f"{a / 15 * np.cos(a):.3f} {a / 15 * np.sin(a):.3f}" for a in np.arange(1.0, 15.1, 0.5))
"""A spiral of radius 1."""


def tooth_picture(cut: BenchCut, wear: float, moving: bool, system: str = "metric") -> str:
    """The band going down through the work on its right: chips grow in the gullets, edges are as blunt as they are."""
    step = float(np.clip(PER_MM * float(sawing.tooth_spacing(cut.setting.pitch)), LEAST, MOST))
    face = BACK + DEEP[cut.setting.form] * step - 0.04 * step - 1.0
    seconds = float(np.clip(40.0 / cut.setting.speed, 0.25, 3.0)) * step / 40.0
    moves = moving and not cut.stopped
    teeth = [_tooth(cut, wear, i, step, seconds if moves else 0.0) for i in range(-2, int(HEIGHT / step) + 1)]
    title = escape(f"Teeth in the work. {'; '.join(sign.text for sign in cut.signs) or 'The cut runs well.'}")
    return (
        f"<svg viewBox='0 0 {WIDTH} {HEIGHT}' width='{WIDTH}' role='img' aria-label='{title}' "
        f"style='max-width:100%;border:1px solid #bbb;background:#fff'><title>{title}</title>"
        f"<rect x='{face:.1f}' y='{TOP}' width='{WIDTH - face:.1f}' height='{BOTTOM - TOP}' fill='{METAL}'/>"
        f"<rect x='{BACK - 32}' y='0' width='33' height='{HEIGHT}' fill='{BAND}'/>{''.join(teeth)}"
        f"<path d='M{BACK - 16} 95 v50 m-6 -9 l6 9 l6 -9' stroke='#fff' stroke-width='2' fill='none'/>"
        f"<path d='M{WIDTH - 30} 125 h-50 m9 -6 l-9 6 l9 6' stroke='#333' stroke-width='2' fill='none'/>"
        f"<text x='{WIDTH - 78}' y='112' font-size='12'>work, feed</text>{_words(cut, system)}</svg>"
    )


def _tooth(cut: BenchCut, wear: float, i: int, step: float, seconds: float) -> str:
    """One tooth and the gullet below it, with its chip; moving by one spacing and again, if it takes `seconds`."""
    form, tip = cut.setting.form, i * step + 0.55 * step
    deep, lean, bend = DEEP[form] * step, RAKE[form] * step, 0.16 * step
    blunt = 1.0 + 0.09 * step * wear + (1.5 if cut.setting.edge == "carbon" else 0.0)
    root = tip - step + bend + (FLAT[form] + 0.1) * step
    gone = cut.stopped and any(sign.id in ("strip", "packed") for sign in cut.signs) and i % 2 == 0
    shape = "" if gone else (
        f"<path d='M{BACK} {root - bend:.1f} Q{BACK} {root:.1f} {BACK + 0.25 * deep:.1f} {root + 0.5 * bend:.1f} "
        f"L{BACK + deep - blunt:.1f} {tip + lean - blunt:.1f} Q{BACK + deep:.1f} {tip + lean - blunt / 2:.1f} "
        f"{BACK + deep - blunt:.1f} {tip + lean:.1f} L{BACK + bend:.1f} {tip:.1f} Q{BACK} {tip:.1f} {BACK} "
        f"{tip + bend:.1f} Z' fill='{BAND}'/>"
    )  # fmt: skip
    motion = _motion("translate", "0 0", f"0 {step:.1f}", seconds) if seconds else ""
    at = BACK + 0.55 * deep, tip + 0.28 * step
    return f"<g>{shape}{_chip(cut, at, step, seconds)}{motion}</g>"


def _chip(cut: BenchCut, at: tuple[float, float], step: float, seconds: float) -> str:
    """What is in the gullet at that place: it fills from the upper side of the work to the lower."""
    shares = [_filled(y, cut.gullet_fill) for y in (at[1], at[1] + step)]
    if max(shares) <= 0:
        return ""
    seen = {sign.id for sign in cut.signs}
    least = 0.08 * step if "rub" in seen else 0.5  # powder, which would not be seen else
    start, end = (max(0.24 * step * np.sqrt(share), least) for share in shares)
    colour = "#3b5bdb" if "blue" in seen else CHIP
    thick = float(np.clip(cut.chip_load * THICKER * 12e-3 / 2, 0.8, 0.045 * step))
    solid = f"fill='{colour}' fill-opacity='0.5'" if seen & {"packed", "full"} else "fill='none'"
    dotted = " stroke-dasharray='1 3'" if "rub" in seen else ""
    growth = _motion("scale", f"{start:.2f}", f"{end:.2f}", seconds) if seconds else ""
    return (
        f"<g transform='translate({at[0]:.1f} {at[1]:.1f})'><path transform='scale({start:.2f})' d='{CURL}' {solid} "
        f"stroke='{colour}' stroke-width='{thick:.1f}' vector-effect='non-scaling-stroke'{dotted}>{growth}</path></g>"
    )


def _filled(y: float, fill: float) -> float:
    """Share of the gullet that is full at a height of the drawing."""
    return float(np.clip((y - TOP) / (BOTTOM - TOP), 0.0, 1.0) * min(fill, 1.2)) if y < BOTTOM else 0.0


def _motion(kind: str, start: str, end: str, seconds: float) -> str:
    return (
        f"<animateTransform attributeName='transform' type='{kind}' from='{start}' to='{end}' dur='{seconds:.2f}s' "
        "repeatCount='indefinite'/>"
    )


def _words(cut: BenchCut, system: str) -> str:
    unit = units.display_unit("chip_load", system)
    chip, *edge = (words.shown(float(units.from_inside(x, "chip_load", unit)), digits)
                   for x, digits in ((min(cut.chip_load, 999.0), 2), (5.0, 1), (15.0, 1)))  # fmt: skip
    lines = (f"chip {chip} {unit}", "edge rounding", f"{' to '.join(edge)} {unit}",
             f"gullet {100 * min(cut.gullet_fill, 9.99):.0f} % full", "a part of the work; chips",
             f"drawn {THICKER} times too thick")  # fmt: skip
    heights = (24, 42, 58, 76, HEIGHT - 28, HEIGHT - 12)
    return "".join(f"<text x='8' y='{y}' font-size='12'>{line}</text>" for line, y in zip(lines, heights, strict=True))


LEFT, FOOT, HEAD = 55, HEIGHT - 45, 28
"""Of the axes of the cost picture."""
HIGHEST = 4.0
"""Cost at the top of the picture over the least [-]."""


def cost_picture(saw: BenchSaw, cut: BenchCut, system: str) -> str:
    """Cost per area over band speed at the chip load that is set; where the saw stands, and the published start."""
    s, unit, area = cut.setting, units.display_unit("speed", system), units.display_unit("area", system)
    V = np.append(np.geomspace(10.0, 220.0, 90), s.speed)
    V.sort()
    feed = None if s.feed == "weight" else s.feed_rate * V / s.speed
    cost = saw.in_the_long_run(s, V, feed)[2] / float(units.from_inside(1.0, "area", area))
    low = float(np.nanmin(cost))
    x = LEFT + (WIDTH - 75) * np.log(V / V[0]) / np.log(V[-1] / V[0])
    y = FOOT - (FOOT - HEAD) * np.clip(cost / low / HIGHEST, 0.0, 1.0)
    line = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True) if b > HEAD)
    at = float(np.interp(s.speed, V, x)), float(np.interp(s.speed, V, y))
    start = float(np.interp(saw.published_speed(s.edge), V, x))
    ticks = "".join(_tick(float(np.interp(v, V, x)), v, unit) for v in (15, 30, 60, 120, 200))
    money = f"{saw.currency}/{area}"
    return (
        f"<svg viewBox='0 0 {WIDTH} {HEIGHT}' width='{WIDTH}' role='img' aria-label='Cost per area over band speed' "
        f"style='max-width:100%;border:1px solid #bbb;background:#fff'>"
        f"<line x1='{LEFT}' y1='{FOOT}' x2='{WIDTH - 20}' y2='{FOOT}' stroke='#333'/>"
        f"<line x1='{LEFT}' y1='{HEAD}' x2='{LEFT}' y2='{FOOT}' stroke='#333'/>{ticks}"
        f"<text x='6' y='{HEAD + 5}' font-size='11'>{words.shown(HIGHEST * low)}</text>"
        f"<text x='6' y='{FOOT - (FOOT - HEAD) / HIGHEST:.0f}' font-size='11'>{words.shown(low)}</text>"
        f"<line x1='{start:.1f}' y1='{HEAD}' x2='{start:.1f}' y2='{FOOT}' stroke='#000' stroke-dasharray='4 4'/>"
        f"<text x='{start + 4:.1f}' y='{FOOT - 6}' font-size='11'>published</text>"
        f"<polyline points='{line}' fill='none' stroke='{COLOURS[0]}' stroke-width='2'/>"
        f"<circle cx='{at[0]:.1f}' cy='{at[1]:.1f}' r='6' fill='{COLOURS[1]}'/>"
        f"<text x='{LEFT}' y='16' font-size='12'>cost per area [{money}] at this chip load</text>"
        f"<text x='{WIDTH / 2 - 60}' y='{HEIGHT - 8}' font-size='12'>band speed [{unit}], log scale</text></svg>"
    )


def _tick(x: float, V: float, unit: str) -> str:
    said = words.shown(float(units.from_inside(float(V), "speed", unit)), 2)
    return (
        f"<line x1='{x:.1f}' y1='{FOOT}' x2='{x:.1f}' y2='{FOOT + 5}' stroke='#333'/>"
        f"<text x='{x - 10:.1f}' y='{FOOT + 18}' font-size='11'>{said}</text>"
    )
