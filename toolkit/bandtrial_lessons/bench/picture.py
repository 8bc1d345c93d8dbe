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
TOP, BOTTOM, BACK = 40, 215, 235
"""Upper and lower side of the work, and where the band's teeth begin, in the drawing."""
LEAST, MOST = 44.0, 95.0
"""Tooth spacing drawn, at least and at most; in between 14 for each millimetre."""
METAL, BAND, CHIP = "#cfd4d9", "#5b6770", COLOURS[1]
THICKER = 60
"""Times that a chip is drawn thicker than it is."""


def tooth_picture(cut: BenchCut, wear: float, moving: bool) -> str:
    """The band going down through the work on its right: chips grow in the gullets, edges are as blunt as they are."""
    p = float(sawing.tooth_spacing(cut.setting.pitch))
    step = float(np.clip(14.0 * p, LEAST, MOST))
    face = BACK + 0.5 * step - 4.0
    seconds = float(np.clip(40.0 / cut.setting.speed, 0.25, 3.0)) * step / 40.0
    teeth = [_tooth(cut, wear, i, step, seconds, moving and not cut.stopped) for i in range(-2, int(HEIGHT / step) + 1)]
    what = "; ".join(sign.text for sign in cut.signs) or "The cut runs well."
    title = escape(f"Teeth in the work. {what}")
    return (
        f"<svg viewBox='0 0 {WIDTH} {HEIGHT}' width='{WIDTH}' role='img' aria-label='{title}' "
        f"style='max-width:100%;border:1px solid #bbb;background:#fff'><title>{title}</title>"
        f"<rect x='{face:.1f}' y='{TOP}' width='{WIDTH - face:.1f}' height='{BOTTOM - TOP}' fill='{METAL}'/>"
        f"<text x='{(face + WIDTH) / 2 - 5:.0f}' y='{(TOP + BOTTOM) / 2}' font-size='13'>work</text>"
        f"<rect x='{BACK - 45}' y='0' width='46' height='{HEIGHT}' fill='{BAND}'/>{''.join(teeth)}{_words(cut)}</svg>"
    )


def _tooth(cut: BenchCut, wear: float, i: int, step: float, seconds: float, moving: bool) -> str:
    """One tooth and the gullet below it, with its chip; moving by one spacing and again."""
    y, depth = i * step, 0.5 * step
    blunt = 1.0 + 0.1 * step * wear + (1.5 if cut.setting.edge == "carbon" else 0.0)
    rake = {"regular": 0.0, "skip": 0.0, "hook": 0.14}[cut.setting.form] * step
    low, tip = y + 0.5 * step, BACK + depth
    gone = cut.stopped and any(sign.id in ("strip", "packed") for sign in cut.signs) and i % 2 == 0
    shape = "" if gone else (
        f"<path d='M{BACK} {y:.1f} L{tip - blunt:.1f} {low + rake - blunt:.1f} "
        f"Q{tip:.1f} {low + rake - blunt / 2:.1f} {tip - blunt:.1f} {low + rake:.1f} L{BACK} {low + 2:.1f} Z' "
        f"fill='{BAND}'/>"
    )  # fmt: skip
    motion = _motion("translate", "0 0", f"0 {step:.1f}", seconds) if moving else ""
    return f"<g>{shape}{_chip(cut, low + 0.24 * step, step, depth, seconds, moving)}{motion}</g>"


def _chip(cut: BenchCut, y: float, step: float, depth: float, seconds: float, moving: bool) -> str:
    """What is in the gullet at that place: it fills from the upper side of the work to the lower."""
    now, then = (_filled(at, cut.gullet_fill) for at in (y, y + step))
    if now <= 0 and then <= 0:
        return ""
    full = 0.22 * step
    start, end = (full * np.sqrt(share) for share in (now, then))
    colour = "#3b5bdb" if any(sign.id == "blue" for sign in cut.signs) else CHIP
    growth = (
        f"<animate attributeName='r' from='{start:.1f}' to='{end:.1f}' dur='{seconds:.2f}s' repeatCount='indefinite'/>"
        if moving else ""
    )  # fmt: skip
    dotted = " stroke-dasharray='1 3'" if any(sign.id == "rub" for sign in cut.signs) else ""
    return (
        f"<circle cx='{BACK + 0.52 * depth:.1f}' cy='{y:.1f}' r='{max(start, 0.6):.1f}' fill='none' stroke='{colour}' "
        f"stroke-width='{np.clip(cut.chip_load * THICKER * 12e-3 / 2, 0.6, 0.12 * step):.1f}'{dotted}>{growth}</circle>"
    )


def _filled(y: float, fill: float) -> float:
    """Share of the gullet that is full at a height of the drawing."""
    return float(np.clip((y - TOP) / (BOTTOM - TOP), 0.0, 1.0) * min(fill, 1.2)) if y < BOTTOM else 0.0


def _motion(kind: str, start: str, end: str, seconds: float) -> str:
    return (
        f"<animateTransform attributeName='transform' type='{kind}' from='{start}' to='{end}' dur='{seconds:.2f}s' "
        "repeatCount='indefinite'/>"
    )


def _words(cut: BenchCut) -> str:
    lines = (f"chip {min(cut.chip_load, 999):.1f} µm", "edge rounding 5 to 15 µm",
             f"gullet {100 * min(cut.gullet_fill, 9.99):.0f} % full", "chips and edges are",
             f"drawn {THICKER} times too thick")  # fmt: skip
    heights = (24, 42, 60, HEIGHT - 28, HEIGHT - 12)
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
