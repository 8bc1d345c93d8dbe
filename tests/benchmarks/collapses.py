"""Does a fit ever collapse? Classes of studies, each fitted in bounded time and memory, and a fuzz of all answers.

    nice python tests/benchmarks/collapses.py [--classes real noise names repeats shops fuzz] [--shops 20] [--fuzz 200]

real     both tables of `tests/data/realdata`: each tool left out at 25, 50 and 75 % of its life
noise    the demo's residuals times 0.01 to 10, written back into its log
names    1 to 1,000 materials and 1 to 100 machines; 1,000 materials with 10,000 cuts
repeats  bands that repeat each other to the digit, 3 and 20 times
shops    virtual shops of every kind, and worlds of every kind
fuzz     `check`, `fit`, `recommend`, `plan`, `watch` of studies with slips of real logs (`slipped_logs.py`)

A fault: an exception, a RuntimeWarning, over 60 s of the processor (a command) or 4 GB, fewer than 100 distinct draws,
a draw or an answer that is no number, "this is a fault in bandtrial". One line a class: cases, faults, grades,
effective draws (least, median), processor seconds of the fit (median, most). --verbose: one line a case.
`--seed N` of a fuzz case that found something, with --fuzz 1, runs it again; --keep FOLDER keeps the studies.
"""

from __future__ import annotations

import argparse
import contextlib
import math
import os
import tempfile
import time
import warnings
from collections import Counter
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import bent_logs
import numpy as np
from asked import ask
from bandtrial import wear
from bandtrial.study import StudyError, open_study
from bandtrial.wear.fit import FitError
from bandtrial_lessons.shop import KINDS
from bandtrial_lessons.worlds import KINDS as WORLDS
from bounded import bounded
from slipped_logs import slipped
from worn_tools import FLEETS, write

SECONDS, GIGABYTES, LEAST_DISTINCT = 60, 4, 100


def real(args):
    for name, of in FLEETS.items():
        fleet = of()
        for at in range(len(fleet.tools)):
            for share in (0.25, 0.5, 0.75):
                what = f"{name} {fleet.tools[at].name} at {share:.0%}"
                yield what, lambda folder, fleet=fleet, at=at, share=share: write(folder, fleet, at, share)


def noise(args):
    for factor in (0.01, 0.03, 0.1, 0.3, 3.0, 10.0):
        yield f"noise x {factor:g}", lambda folder, factor=factor: bent_logs.noisier(folder, factor)


def names(args):
    of = bent_logs
    yield "1 material, 1 machine", lambda folder: of.virtual(folder, 3, "bent_life", metals=1)
    for parts in (4, 34):
        yield f"demo, {3 * parts} materials", lambda folder, parts=parts: of.split(folder, "material", parts)
    for parts in (2, 5):
        yield f"demo, machines x {parts}", lambda folder, parts=parts: of.split(folder, "machine", parts)
    yield "100 machines, 100 bands", lambda folder: _split_virtual(folder, "machine", 100, 1500, 100)
    yield "100 materials, 1,500 cuts", lambda folder: _split_virtual(folder, "material", 34, 1500, 100)
    yield "1,000 materials, 1,500 cuts", lambda folder: _split_virtual(folder, "material", 334, 1500, 100)
    yield "1,000 materials, 10,000 cuts", lambda folder: _split_virtual(folder, "material", 334, 10_000, 300)


def _split_virtual(folder, kind, parts, cuts, bands):
    whole = bent_logs.virtual(folder.with_name(folder.name + "_whole"), 4, "strong_chip", cuts, bands)
    return bent_logs.split(folder, kind, parts, whole)


def repeats(args):
    for times in (3, 20):
        yield f"demo x {times}", lambda folder, times=times: bent_logs.repeated(folder, times)


def shops(args):
    for seed in range(args.seed, args.seed + args.shops):
        cuts, bands = 20 + 10 * (seed % 9), 1 + seed % 8
        for kind in KINDS:
            how = (seed, kind, cuts, bands)
            yield f"{kind} {seed}", lambda folder, how=how: bent_logs.virtual(folder, *how)
        for kind in WORLDS:
            yield f"world {kind} {seed}", lambda folder, k=kind, s=seed: bent_logs.world(folder, s, k)


CLASSES = {"real": real, "noise": noise, "names": names, "repeats": repeats, "shops": shops}


def fitted(folder: Path) -> dict:
    """What one fit says of itself; warnings of numbers are errors."""
    study = open_study(folder)
    began = time.process_time()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        warnings.simplefilter("ignore", ResourceWarning)
        fit = wear.fit(study)
        said = {"seconds": time.process_time() - began, "grade": graded(fit), "effective": fit.drawn.effective}
    said |= {"moves": fit.drawn.moves, "drift": fit.drawn.drift, "cuts": fit.n_cuts, "bands": fit.n_bands}
    said |= {"parameters": len(fit.layout.names), "distinct": len(np.unique(fit.theta, axis=0)), "fault": ""}
    if said["distinct"] < LEAST_DISTINCT:
        said["fault"] = f"a collapse: {said['distinct']} distinct draws"
    if not (np.isfinite(fit.theta).all() and np.isfinite(fit.wear_used_draws).all()):
        said["fault"] = "a draw that is no number"
    return said


def graded(fit) -> str:
    """The fit's grade, and whether it is so for its draws or for what the log contradicts."""
    if fit.trust.grade != "rough":
        return fit.trust.grade
    return "rough by the log" if fit.drawn.good else "rough by the draws"


def tried(what: str, make, args, home: Path) -> dict:
    """One case: made, then fitted in bounds."""
    folder = make(home / what.replace(" ", "_").replace("%", "").replace(",", ""))
    said, fault = bounded(fitted, SECONDS, GIGABYTES, folder)
    said = said or {"fault": fault}
    if args.verbose or said["fault"]:
        print(f"    {what}: {shown(said)}", flush=True)
    return said


def shown(said: dict) -> str:
    if "seconds" not in said:
        return said["fault"]
    words = "{cuts} cuts, {bands} bands, {parameters} parameters; {effective:.0f} effective, {distinct} distinct, "
    words += "{moves} moves, drift {drift:.1f}, {grade}, {seconds:.2f} s  {fault}"
    return words.format(**said)


def line(name: str, found: list[dict]) -> None:
    """The line of a class."""
    faults = sum(bool(said["fault"]) for said in found)
    fits = [said for said in found if "seconds" in said]
    print(f"{name:<9}{len(found):>6} cases {faults:>5} faults", end="")
    if fits:
        grades = ", ".join(f"{n} {grade}" for grade, n in Counter(said["grade"] for said in fits).most_common())
        own, took = ([said[key] for said in fits] for key in ("effective", "seconds"))
        print(f"   {grades}; effective {min(own):.0f} (median {np.median(own):.0f}); "
              f"{np.median(took):.2f} s (most {max(took):.2f})", end="")  # fmt: skip
    print(flush=True)


def bases(home: Path) -> list[Path]:
    """The studies that slips are made in."""
    found = [bent_logs.DEMO, bent_logs.DEMO, bent_logs.SAMPLE, bent_logs.THIN]
    found += [bent_logs.virtual(home / f"base_{kind}", 5, kind, 50, 4) for kind in KINDS]
    found += [bent_logs.world(home / f"base_world_{kind}", 2 + i, kind) for i, kind in enumerate(WORLDS)]
    return [*found, write(home / "base_milling", FLEETS["milling"](), 3, 0.5)]


def answered(folder: Path) -> dict:
    """The fit of one study, then all commands on it; the first fault is told."""
    warnings.simplefilter("error", RuntimeWarning)
    study, said = None, {"fault": "", "refused": True}
    with contextlib.suppress(StudyError, FitError):
        study = open_study(folder)
        said = fitted(folder)
    if said["fault"]:
        return said
    seconds = {}
    for words in commands(folder, study):
        began = time.process_time() - said.get("seconds", 0.0)  # as if each had fitted the log itself
        got = ask(*words)
        seconds[words[0]] = time.process_time() - began
        fault = of_answer(got)
        if fault:
            return {"fault": f"{words[0]}: {fault}", "words": words}
        if seconds[words[0]] > SECONDS:
            return {"fault": f"{words[0]}: a hang, {seconds[words[0]]:.0f} s"}
    return said | {"commands": seconds}


def once(fit):
    """`wear.fit`, made once for each study: same log, same seed, same draws serve all who ask without more words."""
    made: dict = {}

    def asked(study, *, priors=True, **more):
        if more or not priors:
            return fit(study, priors=priors, **more)
        if study.path not in made:
            made[study.path] = fit(study)
        return made[study.path]

    return asked


def commands(folder: Path, study):
    """What a user would ask."""
    yield "fit", folder
    yield "watch", folder
    if study is None or not len(study.cuts):
        return
    cut = study.cuts.iloc[len(study.cuts) // 2]
    stock = next(iter(study.band_stock))
    job = ("--machine", cut["machine"], "--stock", stock, "--material", cut["material"], "--thickness", "40 mm")
    yield "recommend", folder, *job
    yield "plan", folder, *job, "--minutes", "100"
    yield "compare", folder


def of_answer(got) -> str:
    """What is wrong with an answer, "" if nothing."""
    if got.crashed or "Traceback" in got.words or "Warning" in got.words:
        return " ".join(got.words.split())[:400]
    if got.code not in (0, 1, 2) or (got.code == 0 and got.json is None):
        return f"exit {got.code}, no JSON: {got.words[:200]}"
    if got.code and not got.words:
        return f"exit {got.code} without a word"
    return "an answer that is no number" if not finite(got.json) else ""


def finite(value) -> bool:
    """Whether all numbers in a JSON answer are numbers."""
    if isinstance(value, float):
        return math.isfinite(value)
    items = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return all(finite(item) for item in items)


def fuzz(args, home: Path) -> list[dict]:
    """Slipped studies through all commands."""
    kinds, found = bases(home), []
    wear.fit = once(wear.fit)
    answered(bent_logs.DEMO)  # so that what is imported late is there before each process of its own
    for seed in range(args.seed, args.seed + args.fuzz):
        base = kinds[seed % len(kinds)]
        folder = bent_logs.copied(home / f"fuzz_{seed}", base)
        made = slipped(folder, seed)
        said, fault = bounded(answered, 5 * SECONDS, GIGABYTES, folder)
        said = said or {"fault": fault}
        if args.verbose or said["fault"]:
            print(f"    seed {seed}, {base.name}, {' + '.join(made)}: {shown(said) if said else ''}", flush=True)
        found.append(said)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--classes", nargs="+", default=[*CLASSES, "fuzz"], choices=[*CLASSES, "fuzz"])
    parser.add_argument("--shops", type=int, default=20, help="of each kind")
    parser.add_argument("--fuzz", type=int, default=200, help="studies with slips")
    parser.add_argument("--seed", type=int, default=0, help="the first seed of shops and slips")
    parser.add_argument("--keep", metavar="FOLDER", help="where to leave the studies")
    parser.add_argument("--verbose", action="store_true", help="one line a case")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as spare:
        home = Path(args.keep or spare)
        home.mkdir(exist_ok=True, parents=True)
        for name in args.classes:
            if name == "fuzz":
                line(name, fuzz(args, home))
            else:
                line(name, [tried(what, make, args, home) for what, make in CLASSES[name](args)])


if __name__ == "__main__":
    main()
