"""Faults while cuts are saved: every acknowledged cut must be in the log once, and every log must open.

    python tests/benchmarks/faults.py kill --count 1000      kill the writer at random moments
    python tests/benchmarks/faults.py workbook --count 200   the same where the log is a workbook
    python tests/benchmarks/faults.py crash                  end it at every call to the operating system
    python tests/benchmarks/faults.py full --count 20        fill the disk
    python tests/benchmarks/faults.py permission             take permission away
    python tests/benchmarks/faults.py cutoff                 cut the file off at every byte of its last line
    python tests/benchmarks/faults.py writers --count 5000   two writers, so many cuts each
    python tests/benchmarks/faults.py spreadsheet --count 50 another program saves its older copy over ours
    python tests/benchmarks/faults.py outputs --count 3      a full disk, a closed folder before every other writer
    python tests/benchmarks/faults.py all

Prints one line per fault, and ends with 1 if a cut was lost or is there twice, an output is there in part, or a spare
file is left. Needs a POSIX system; as root it mounts small disks and becomes somebody else where that matters.
"""

import argparse
import csv
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))
from bandtrial import study
from study_folders import folder, rows

CUT = {"machine": "saw1", "band": "B1", "material": "plate", "work_thickness": "1 in", "cut_travel": "10 in",
       "band_speed": 200, "feed_rate": 5.0, "cut_time": 120, "note": "saved under fire"}  # fmt: skip


class Tally:
    """What was acknowledged, and what of it is in the log."""

    def __init__(self) -> None:
        self.acknowledged = self.found_once = self.lost = self.twice = self.unopened = 0
        self.begin = time.perf_counter()

    def count(self, place: Path, acknowledged: list[str]) -> None:
        """Open the log and look for every acknowledged cut."""
        try:
            cuts = study.open_study(place).cuts["cut"].value_counts()
        except study.StudyError:
            self.unopened += 1
            return
        for cut in acknowledged:
            self.acknowledged += 1
            times = int(cuts.get(cut, 0))
            self.found_once += times == 1
            self.lost += times == 0
            self.twice += times > 1

    def line(self, what: str) -> str:
        took = time.perf_counter() - self.begin
        return (f"{what}: acknowledged {self.acknowledged}, found once {self.found_once}, lost {self.lost}, "
                f"twice {self.twice}, not opened {self.unopened}, {took:.0f} s")  # fmt: skip

    @property
    def sound(self) -> bool:
        return self.acknowledged == self.found_once and not (self.lost or self.twice or self.unopened)


def no_spare_left(place: Path) -> None:
    """What killed writers leave is gone after the next cut."""
    left = [path.name for path in place.rglob("*.new")]
    assert not left, f"left behind: {left}"


def child(work: Callable[[Callable[[str], None]], None]) -> tuple[int, int]:
    """Run `work(acknowledge)` in a process of its own; its id and the pipe its acknowledgements come by."""
    out, into = os.pipe()
    process = os.fork()
    if process:
        os.close(into)
        return process, out
    try:
        os.close(out)
        work(lambda cut: void(os.write(into, f"{cut}\n".encode())))
        os._exit(0)
    except BaseException as error:
        os.write(2, f"{type(error).__name__}: {error}\n".encode())
        os._exit(3)


def void(_: object) -> None:
    """Nothing, of anything."""


def finish(process: int, out: int) -> list[str]:
    """Wait for a child; the cuts it acknowledged (a last line without its end was never sent)."""
    data = b""
    while block := os.read(out, 65536):
        data += block
    os.close(out)
    os.waitpid(process, 0)
    return data.decode().split("\n")[:-1]


def endless(place: Path) -> Callable[[Callable[[str], None]], None]:
    def work(acknowledge: Callable[[str], None]) -> None:
        while True:
            acknowledge(study.append_cut(place, CUT).cut)

    return work


def kill(place: Path, count: int, chance: random.Random, longest: float = 0.3) -> Tally:
    """Kill the writer, unprepared, at `count` random moments of its work."""
    tally, acknowledged = Tally(), [study.append_cut(place, CUT).cut]  # all modules are loaded from here on
    spares = 0
    for _ in range(count):
        process, out = child(endless(place))
        time.sleep(chance.uniform(0.0, longest))
        os.kill(process, signal.SIGKILL)
        acknowledged += finish(process, out)
        spares += len(list(place.rglob("*.new")))
    acknowledged.append(study.append_cut(place, CUT).cut)
    no_spare_left(place)
    print(f"# {count} kills, after which {spares} spare files stood there, none after the next cut", file=sys.stderr)
    tally.count(place, acknowledged)
    return tally


def workbook(place: Path, count: int, chance: random.Random) -> Tally:
    """Kill the writer of a workbook, which is written anew for every cut."""
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "cuts"
    with (place / "cuts.csv").open(encoding="utf-8", newline="") as log:
        for line in csv.reader(log):
            sheet.append([float(cell) if cell.isdigit() else cell or None for cell in line])
    book.save(place / "cuts.xlsx")
    (place / "cuts.csv").unlink()
    return kill(place, count, chance, longest=1.0)


def outputs(place: Path, count: int, chance: random.Random, quick: bool = False) -> Tally:
    """Every obstacle before every other writer, `count` times; see output_faults.py."""
    import output_faults

    tally = Tally()
    for name, write in output_faults.writers(quick).items():
        for what, sound, said in output_faults.tried(name, write, count, chance):
            tally.acknowledged += 1
            tally.found_once += sound
            tally.lost += not sound
            print(f"# {what}: {'sound' if sound else 'NOT SOUND'}{', ' if said else ''}{said}", file=sys.stderr)
    return tally


CALLS = ("open", "write", "fsync", "ftruncate", "lseek", "read", "replace", "link", "unlink", "close", "stat", "lstat",
         "chmod", "scandir", "mkdir")  # fmt: skip


def crash(place: Path, count: int, chance: random.Random) -> Tally:
    """End the writer before every call (or every `count`th) to the operating system; a write stops half way.

    Three times: a sound log, one that was cut off, and a writer of three cuts at once, of which all or none stay.
    """
    tally, acknowledged = Tally(), [study.append_cut(place, CUT).cut]
    for state in ("sound", "cut off", "three at once"):
        at = 0
        while True:
            at += count
            if state == "cut off":
                with open(place / "cuts.csv", "ab") as log:
                    log.write(b"999,2026-03-0")
            several = 3 if state == "three at once" else 1
            process, out = child(lambda acknowledge, at=at, several=several: _dying(place, at, several, acknowledge))
            sent = finish(process, out)
            if several == 3:
                together = (place / "cuts.csv").read_text().count("three at once")
                assert together % 3 == 0, f"{together} cuts of threes"
            acknowledged += [cut for cut in sent if cut != "whole"]
            study.append_cut(place, CUT)  # whatever was left behind, the next writer goes on
            no_spare_left(place)
            if "whole" in sent:
                break
    tally.count(place, acknowledged)
    return tally


def _dying(place: Path, at: int, several: int, acknowledge: Callable[[str], None]) -> None:
    """Save cuts and die at call number `at`; says "whole" if it never came to that call."""
    left = [at]

    def mortal(name: str, call: Callable) -> Callable:
        def dying(*arguments, **named):
            left[0] -= 1
            if left[0] == 0:
                if name == "write":
                    call(arguments[0], arguments[1][: len(arguments[1]) // 2])
                os._exit(9)
            return call(*arguments, **named)

        return dying

    into = os.write
    for name in CALLS:
        setattr(os, name, mortal(name, getattr(os, name)))
    for _ in range(2):
        note = {"note": "three at once"} if several == 3 else {}
        saved = study.append_cuts(place, [CUT | note] * several)
        dying, os.write = os.write, into
        for one in saved:
            acknowledge(one.cut)
        os.write = dying
    os.write = into
    acknowledge("whole")


def full(place: Path, count: int, chance: random.Random) -> Tally:
    """Save until the disk is full, `count` times, on a disk of its own or with a limit on file size."""
    tally = Tally()
    disk = Path(tempfile.mkdtemp())
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", disk], capture_output=True)
    try:
        for n in range(count):
            here = folder((disk if mounted.returncode == 0 else place.parent) / f"study{n}", rows({}))
            if mounted.returncode == 0:
                free = os.statvfs(disk).f_bavail * os.statvfs(disk).f_frsize
                (here / "filler").write_bytes(bytes(max(0, free - chance.randrange(16_000, 40_000))))
            process, out = child(_until_refused(here, limited=mounted.returncode != 0))
            sent = finish(process, out)
            cuts, words = [one for one in sent if one.isdigit()], [one for one in sent if not one.isdigit()]
            assert len(words) == 1 and words[0].endswith("nothing was saved"), words
            tally.count(here, cuts)
            (here / "filler").unlink(missing_ok=True)  # somebody makes room
            tally.count(here, [study.append_cut(here, CUT).cut])
            no_spare_left(here)
            shutil.rmtree(here)
    finally:
        if mounted.returncode == 0:
            subprocess.run(["umount", disk], check=True)
        disk.rmdir()
    return tally


def _until_refused(place: Path, limited: bool) -> Callable[[Callable[[str], None]], None]:
    def work(acknowledge: Callable[[str], None]) -> None:
        if limited:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            size = (place / "cuts.csv").stat().st_size
            resource.setrlimit(resource.RLIMIT_FSIZE, (size + 5000, resource.RLIM_INFINITY))
        try:
            while True:
                acknowledge(study.append_cut(place, CUT).cut)
        except study.SaveError as error:
            acknowledge(str(error))

    return work


def permission(place: Path, count: int, chance: random.Random) -> Tally:
    """Take away the permission to write the file, then the folder, from a user who is not root."""
    tally, acknowledged = Tally(), []
    nobody = 65534

    def work(acknowledge: Callable[[str], None]) -> None:
        if os.getuid() == 0:
            os.setgid(nobody)
            os.setuid(nobody)
        try:
            acknowledge(study.append_cut(place, CUT).cut)
        except study.SaveError as error:
            acknowledge(str(error))

    for path in [place.parent, place, *place.iterdir()]:
        os.chmod(path, 0o777)
    study.append_cut(place, CUT)
    for file_mode, folder_mode in ((0o444, 0o777), (0o666, 0o555), (0o000, 0o777), (0o666, 0o777)):
        shutil.rmtree(place / ".bandtrial")
        os.chmod(place / "cuts.csv", file_mode)
        os.chmod(place, folder_mode)
        before = (place / "cuts.csv").read_bytes() if os.getuid() == 0 else None
        process, out = child(work)
        sent = finish(process, out)
        os.chmod(place, 0o777)
        os.chmod(place / "cuts.csv", 0o666)
        if sent[0].isdigit():
            acknowledged += sent
        else:
            assert "permission denied" in sent[0] and before in (None, (place / "cuts.csv").read_bytes()), sent
        (place / ".bandtrial").mkdir(exist_ok=True)
    tally.count(place, acknowledged)
    assert tally.acknowledged >= 1
    return tally


def cutoff(place: Path, count: int, chance: random.Random) -> Tally:
    """Cut the log off at every byte (or every `count`th) of its last line; the cuts before stay, saving goes on."""
    tally = Tally()
    acknowledged = [study.append_cut(place, CUT).cut for _ in range(3)]
    whole = (place / "cuts.csv").read_bytes()
    last = whole.rindex(b"\n", 0, -1) + 1
    for end in range(last, len(whole), count):
        (place / "cuts.csv").write_bytes(whole[:end])
        said = "\n".join(map(str, study.check(place)))
        torn = end > last and whole[last:end].count(b",") < whole[last:].count(b",")
        assert ("the last line was cut off" in said) == torn, said
        new = study.append_cut(place, CUT).cut
        tally.count(place, [*acknowledged[:-1], new])
    return tally


def writers(place: Path, count: int, chance: random.Random) -> Tally:
    """Two writers at once, `count` cuts each."""

    def work(acknowledge: Callable[[str], None]) -> None:
        for _ in range(count):
            acknowledge(study.append_cut(place, CUT).cut)

    tally = Tally()
    children = [child(work) for _ in range(2)]
    acknowledged = [cut for one in children for cut in finish(*one)]
    assert len(acknowledged) == len(set(acknowledged)) == 2 * count
    no_spare_left(place)
    tally.count(place, acknowledged)
    return tally


def spreadsheet(place: Path, count: int, chance: random.Random) -> Tally:
    """Another program reads the log, waits, and saves its older copy over it; then the lost are put back."""

    def work(acknowledge: Callable[[str], None]) -> None:
        for _ in range(4 * count):
            try:
                acknowledge(study.append_cut(place, CUT).cut)
            except study.SaveError:
                continue  # not acknowledged

    tally = Tally()
    process, out = child(work)
    while os.waitid(os.P_PID, process, os.WEXITED | os.WNOHANG | os.WNOWAIT) is None:
        copy = (place / "cuts.csv").read_bytes()
        time.sleep(chance.uniform(0.0, 0.05))
        (place / "copy").write_bytes(copy)
        os.replace(place / "copy", place / "cuts.csv")
        time.sleep(chance.uniform(0.02, 0.1))
    sent = finish(process, out)
    study.restore_cuts(place)
    tally.count(place, list(dict.fromkeys(sent)))
    return tally


FAULTS = {"kill": (kill, 1000), "workbook": (workbook, 200), "outputs": (outputs, 3), "crash": (crash, 1),
          "full": (full, 20), "permission": (permission, 1),
          "cutoff": (cutoff, 1), "writers": (writers, 5000), "spreadsheet": (spreadsheet, 50)}  # fmt: skip


def main() -> int:
    parser = argparse.ArgumentParser(description="Faults while cuts are saved.")
    parser.add_argument("fault", choices=[*FAULTS, "all"])
    parser.add_argument("--count", type=int, help="how often; the default is the long run")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--quick", action="store_true", help="of the outputs, only those that are soon written")
    arguments = parser.parse_args()
    sound = True
    for name in FAULTS if arguments.fault == "all" else [arguments.fault]:
        fault, usual = FAULTS[name]
        with tempfile.TemporaryDirectory() as base:
            place = folder(Path(base) / "study", rows({}))
            more = {"quick": arguments.quick} if name == "outputs" else {}
            tally = fault(place, arguments.count or usual, random.Random(arguments.seed), **more)
        print(tally.line(name), flush=True)
        sound &= tally.sound
    return 0 if sound else 1


if __name__ == "__main__":
    sys.exit(main())
