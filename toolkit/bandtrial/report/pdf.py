"""A page printed to PDF by a Chromium-family browser found on PATH."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

BROWSERS = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome", "chrome", "msedge")
PATIENCE = 300  # s; a long report prints in under a minute


class NoBrowser(RuntimeError):  # noqa: N818 - it names what is missing
    """No browser that can print was found, or the one found did not print."""


def find_browser() -> str:
    """Path of the first browser of `BROWSERS` on PATH; NoBrowser says what to install or do instead."""
    for name in BROWSERS:
        if path := shutil.which(name):
            return path
    raise NoBrowser(
        f"A PDF needs a Chromium browser on PATH (looked for: {', '.join(BROWSERS)}); none "
        "was found. Install Chromium, or open the HTML file in any browser and print it there."
    )


def print_pdf(html: str | Path, out: str | Path) -> Path:
    """Print the HTML file to the PDF file `out` with the page size and numbers of its style sheet.

    The browser gets a profile of its own that is thrown away, and no network is needed.
    """
    html, out = Path(html).resolve(), Path(out).resolve()
    browser = find_browser()
    with tempfile.TemporaryDirectory(prefix="bandtrial-print-") as profile:
        command = [
            browser,
            "--headless",
            "--disable-gpu",
            "--no-first-run",
            "--disable-extensions",
            "--no-pdf-header-footer",
            f"--user-data-dir={profile}",
            f"--print-to-pdf={out}",
            html.as_uri(),
        ]
        if hasattr(os, "geteuid") and os.geteuid() == 0:  # its sandbox refuses to start for root
            command.insert(1, "--no-sandbox")
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE, check=False)
        except subprocess.TimeoutExpired:
            raise NoBrowser(f"{browser} took over {PATIENCE} s for '{html.name}'; {_instead()}") from None
    if done.returncode or not out.is_file():
        last = (done.stderr.strip().splitlines() or ["it said nothing"])[-1]
        raise NoBrowser(f"{browser} could not print '{html.name}': {last}; {_instead()}")
    return out


def _instead() -> str:
    return "the HTML file is complete: open it in any browser and print it to PDF there."
