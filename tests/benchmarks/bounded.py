"""One piece of work in a process of its own, bounded in processor time and memory: its result, or what went wrong."""

from __future__ import annotations

import multiprocessing
import resource
import signal
import time
import traceback
from typing import Any

WALL = 30
"""Times the allowed processor time that may go by on the clock, on a machine that others use too."""


def bounded(work, seconds: float, gigabytes: float, *args) -> tuple[Any, str]:
    """(work(*args), ""), or (None, the fault in words): an exception with its place, a hang, or a death."""
    ends = multiprocessing.get_context("fork")
    here, there = ends.Pipe(duplex=False)
    process = ends.Process(target=_do, args=(there, work, seconds, gigabytes, args))
    process.start()
    there.close()
    try:
        if not here.poll(WALL * seconds):
            process.kill()
            return None, f"a hang: no answer in {WALL * seconds:.0f} s of the clock"
        return here.recv()
    except EOFError:
        process.join()
        if -(process.exitcode or 0) in (signal.SIGXCPU, signal.SIGKILL):
            return None, f"a hang: over {seconds:.0f} s of the processor"
        return None, f"the process died with exit code {process.exitcode}"
    finally:
        process.join()


def _do(pipe, work, seconds, gigabytes, args) -> None:
    now = time.process_time()
    resource.setrlimit(resource.RLIMIT_CPU, (int(now + seconds) + 1, int(now + seconds) + 3))
    size = int(gigabytes * 2**30)
    resource.setrlimit(resource.RLIMIT_AS, (size, size))
    try:
        pipe.send((work(*args), ""))
    except BaseException as error:
        frames = traceback.extract_tb(error.__traceback__)
        places = [f"{frame.filename.rpartition('/')[2]}:{frame.lineno}" for frame in frames[-3:]]
        pipe.send((None, f"{type(error).__name__}: {' '.join(str(error).split())[:300]} at {' < '.join(places[::-1])}"))
