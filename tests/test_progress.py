"""What is said of long work: nothing at first, nothing into a pipe, one line that goes away."""

import io

from bandtrial.progress import Progress


class Screen(io.StringIO):
    def isatty(self):
        return True


def test_one_line_after_two_seconds_and_gone_at_the_end():
    now, screen = [0.0], Screen()
    progress = Progress("fitting the log", screen, lambda: now[0])
    for at, share in ((0.5, 0.1), (1.9, 0.2), (2.1, 0.25), (2.2, 0.3), (2.8, 0.5)):
        now[0] = at
        progress(share, "drawing")
    progress.done()
    first, second = (f"fitting the log: {share} %, drawing (Ctrl-C stops)" for share in (25, 50))
    assert screen.getvalue() == f"\r{first}\r{second}\r{' ' * len(second)}\r"


def test_nothing_into_a_pipe():
    now, pipe = [0.0], io.StringIO()
    progress = Progress("fitting the log", pipe, lambda: now[0])
    now[0] = 60.0
    progress(0.5, "drawing")
    progress.done()
    assert pipe.getvalue() == ""
