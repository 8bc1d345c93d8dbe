"""The watch's false alarms on sound virtual bands, and its delay on a 20 % shift. Everything here is invented.

    python tests/benchmarks/watch_alarms.py [--shops 30] [--kinds any gentle strong_chip force_feed_thinning]

Each shop logs eight bands of mixed settings, 24 cuts each: five that are taken off, then three in service. False
alarms: bands and machines of the sound log that ring at any time; "charts" are all that rang, of a shop on average,
beside how many would by the rule's published rate (once in 1,000 readings of a chart). Delay: the motor power (at a
set feed force: the time of a cut) of the last band grows by 20 % for good half way through its log, and the shop fits
and watches afresh after every cut, until the alarm of that band, or of the machine, rings.
"""

from __future__ import annotations

import argparse
import dataclasses

import numpy as np
import pandas as pd
from bandtrial import watch, wear
from bandtrial_lessons.shop import Shop, ShopError

BANDS, ROWS, SOUND, SHIFTED = 8, 24, 12, 12
SHIFT = 1.2
DRAWS = 400


def log_of(seed: int, kind: str) -> Shop:
    """A shop with its log: three speeds and two bites in turn, about a third of the life of a band each."""
    shop = Shop(seed, kind=kind)
    machine, L = shop.machine, 40.0
    best = shop.best_setting(work_thickness=L)
    area = float(shop.true_life(best.band_speed, best.feed, work_thickness=L))
    pieces = max(1, round(area / (ROWS * 1.5) / (L * 100 / 100)))
    factors = [(0.85, 1.0), (1.0, 0.85), (1.1, 1.0), (1.0, 1.0), (0.9, 0.9)]
    feed_name = "feed_force" if machine.feed == "force" else "feed_rate"
    for n in range(BANDS):
        band, rows = shop.new_band(), []
        for i in range(ROWS):
            v, f = factors[(i + n) % len(factors)]
            rows.append({"band": band, "band_speed": float(shop.indicated_speed(v * best.band_speed)),
                         feed_name: f * v * best.feed if feed_name == "feed_rate" else f * best.feed,
                         "work_thickness": L, "cut_travel": 100.0, "pieces": pieces})  # fmt: skip
        shop.run(pd.DataFrame(rows))
        if n < BANDS - 3 and shop.bands[band].alive:
            shop.remove(band)
    return shop


def until(study, cut: str, shifted_from: str | None, signal: str, bands: list[str]):
    """The study as it stood after a cut, with the signal of some bands shifted from a cut on."""
    cuts = study.cuts
    stop = int(np.flatnonzero(cuts["cut"] == cut)[0]) + 1
    cuts = cuts.iloc[:stop].copy()
    if shifted_from is not None:
        at = np.arange(stop) >= int(np.flatnonzero(study.cuts["cut"] == shifted_from)[0])
        cuts.loc[at & cuts["band"].isin(bands).to_numpy(), signal] *= SHIFT
    return dataclasses.replace(study, cuts=cuts)


def delays(study, cuts, signal, band, machine) -> dict[str, float]:
    """How many cuts after the shift the alarms of the band and of the machine take (inf: longer than seen)."""
    found = {"band": np.inf, "machine": np.inf}
    for n, cut in enumerate(cuts, start=1):
        now = until(study, cut, cuts[0], signal, [band])
        seen = watch.watch(wear.fit(now, draws=DRAWS), now)
        for kind, name in (("band", band), ("machine", machine)):
            if any(alarm.now and (alarm.kind, alarm.name) == (kind, name) for alarm in seen.alarms):
                found[kind] = min(found[kind], n)
        if np.isfinite(found["band"]) and (np.isfinite(found["machine"]) or n >= 8):
            break
    return found


def shop_result(seed: int, kind: str) -> dict | None:
    """Charts that rang falsely, and the delays after a shift; None for a shop whose last band ended early."""
    shop = log_of(seed, kind)
    study = shop.to_study()
    last, machine = list(shop.bands)[-1], shop.machine.id
    own = list(study.cuts.loc[study.cuts["band"] == last, "cut"])
    if len(own) < SOUND + SHIFTED or shop.bands[last].end != "in_service":
        return None
    sound = watch.watch(wear.fit(study, draws=DRAWS), study)
    signal = "cut_time" if shop.machine.feed == "force" else "motor_power"
    rang = {(alarm.kind, alarm.name) for alarm in sound.alarms}
    return {
        "bands": len(shop.bands),
        "charts": len(sound.alarms),
        "by_rule": sound.by_chance,
        "false_bands": sum(kind == "band" for kind, _ in rang),
        "false_machines": sum(kind == "machine" for kind, _ in rang),
        **delays(study, own[SOUND : SOUND + SHIFTED], signal, last, machine),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shops", type=int, default=30)
    parser.add_argument("--kinds", nargs="+", default=["any", "gentle", "strong_chip", "force_feed_thinning"])
    args = parser.parse_args()
    print(f"{'kind':<22}{'shops':>6}{'false: bands':>14}{'machines':>10}{'charts':>8}{'by rule':>9}  "
          "delay in cuts: band found, median, 90 %; machine")  # fmt: skip
    for kind in args.kinds:
        found, seed = [], 0
        while len(found) < args.shops and seed < 4 * args.shops:
            try:
                result = shop_result(seed, kind)
            except ShopError:
                result = None
            found += [result] if result else []
            seed += 1
        bands = sum(r["false_bands"] for r in found) / sum(r["bands"] for r in found)
        line = f"{kind:<22}{len(found):>6}{bands:>13.1%}{np.mean([r['false_machines'] > 0 for r in found]):>10.0%}"
        line += f"{np.mean([r['charts'] for r in found]):>8.2f}{np.mean([r['by_rule'] for r in found]):>9.2f}  "
        for of in ("band", "machine"):
            delay = np.array([r[of] for r in found])
            ends = np.quantile(delay, [0.5, 0.9], method="higher")
            line += f"{np.mean(np.isfinite(delay)):>8.0%}{ends[0]:>5.0f}{ends[1]:>5.0f}"
        print(line, flush=True)


if __name__ == "__main__":
    main()
