"""A page printed to PDF by a Chromium-family browser found on PATH."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path

from bandtrial.disk import whole

BROWSERS = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome", "chrome", "msedge")
_WINDOWS = (r"Google\Chrome\Application\chrome.exe", r"Microsoft\Edge\Application\msedge.exe",
            r"Chromium\Application\chrome.exe")  # fmt: skip
_MACOS = ("Google Chrome", "Chromium", "Microsoft Edge")
PATIENCE = 300  # s; a long report prints in under a minute


class NoBrowser(RuntimeError):  # noqa: N818 - it names what is missing
    """No browser that can print was found, or the one found did not print."""


def find_browser() -> str:
    """Path of the first browser of `BROWSERS` on PATH, or where Windows and macOS keep it; NoBrowser says what to
    install or do instead.
    """
    for name in BROWSERS:
        if path := shutil.which(name):
            return path
    for place in _usual_places(sys.platform, os.environ):
        if place.is_file():
            return str(place)
    raise NoBrowser(
        f"A PDF needs a Chromium browser on PATH (looked for: {', '.join(BROWSERS)}); none "
        "was found. Install Chromium, or open the HTML file in any browser and print it there."
    )


def _usual_places(platform: str, environment: Mapping[str, str]) -> list[Path]:
    """Where installers put a browser without telling PATH.

    >>> [str(place) for place in _usual_places("darwin", {})][:1]
    ['/Applications/Google Chrome.app/Contents/MacOS/Google Chrome']
    """
    if platform == "darwin":
        return [Path(f"/Applications/{name}.app/Contents/MacOS/{name}") for name in _MACOS]
    if platform == "win32":
        roots = [environment.get(name) for name in ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA")]
        return [Path(root, name) for name in _WINDOWS for root in roots if root]
    return []


def print_pdf(html: str | Path, out: str | Path) -> Path:
    """Print the HTML file to the PDF file `out` with the page size and numbers of its style sheet.

    The browser gets a profile of its own that is thrown away, and no network is needed.
    """
    browser = find_browser()
    with whole(out) as (spare,):
        _print(browser, Path(html).resolve(), spare)
    return Path(out)


def _print(browser: str, html: Path, out: Path) -> None:
    with tempfile.TemporaryDirectory(prefix="bandtrial-print-", ignore_cleanup_errors=True) as profile:
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
            done = subprocess.run(
                command, capture_output=True, text=True, errors="replace", timeout=PATIENCE, check=False
            )
        except subprocess.TimeoutExpired:
            raise NoBrowser(f"{browser} took over {PATIENCE} s for '{html.name}'; {_instead()}") from None
    if done.returncode or b"%%EOF" not in out.read_bytes()[-1024:]:
        last = (done.stderr.strip().splitlines() or ["it said nothing"])[-1]
        raise NoBrowser(f"{browser} could not print '{html.name}': {last}; {_instead()}")


def _instead() -> str:
    return "the HTML file is complete: open it in any browser and print it to PDF there."
