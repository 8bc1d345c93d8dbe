"""A stopwatch in a button: pressed, it runs and shows its time; pressed again, it hands the time on."""

import threading
import time
from collections.abc import Callable

from bandtrial.panels import base
from bandtrial.study.draft import clock

START = "Start stopwatch"


class Stopwatch:
    """`button` starts and stops it. began() is called at the start, ended(minutes) at the stop."""

    def __init__(self, began: Callable[[], None], ended: Callable[[float], None]) -> None:
        self.began, self.ended = began, ended
        self.since: float | None = None
        self.button = base.button(START, "start as the band meets the work, stop as it is through")

    def press(self) -> None:
        if self.since is None:
            self.since, self.over = time.monotonic(), threading.Event()
            self.began()
            self._show()
            threading.Thread(target=self._tick, args=(self.over,), daemon=True).start()
            return
        minutes, self.since = (time.monotonic() - self.since) / 60, None
        self.over.set()
        self.button.description = START
        self.ended(minutes)

    def _tick(self, over: threading.Event) -> None:
        while not over.wait(1.0):
            self._show()

    def _show(self) -> None:
        since = self.since
        if since is not None:
            self.button.description = f"Stop at {clock(int(time.monotonic() - since) / 60)}"
