"""Pages from templates, what they come from, and their PDF."""

from __future__ import annotations

import datetime
import hashlib
import os
import platform
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bandtrial import __version__
from bandtrial.disk import save, whole
from bandtrial.report import page
from bandtrial.report.change import CAVEAT, change, differs_words, ratio_rows, said_of, setting_words
from bandtrial.study import open_study

if TYPE_CHECKING:
    from bandtrial.study.model import Study


def write_report(study_path: str, out: Path, pdf: bool = False, made: str | None = None, summary: bool = False) -> Path:
    """Write the report of a study folder to `out` (HTML), its numbers beside it, and a PDF if asked.

    study_path : the study's folder; out : the HTML file; pdf : print it to `out` with .pdf as well
    made : the date on the page, today's by default; all else is the same each time
    summary : a folder beside it for who decides (`summary.write_summary`), printed too if asked

    Returns the path of the HTML file. Raises study.StudyError, wear.FitError, pdf.NoBrowser, and
    disk.NotWrittenError, when nothing was written.
    """
    from bandtrial.report import context, export
    from bandtrial.report.export import write_summary

    out = Path(out)
    study = open_study(study_path)
    g = context.gather(study)
    beside = export.beside(out)
    names = ", ".join(path.name for path in beside)
    made_by = command(study_path, out, pdf)
    made = made or today()
    fields = context.page_fields(g, made, made_by, names)
    css = page.style("card.css", "report.css")
    text = page.render("report.html", css=css, paper=page.PAPER[study.units], **fields)
    with whole(*beside, out) as (*numbers, html):
        export.fill(g, *numbers)
        html.write_bytes(text.lstrip().encode(errors="replace"))
    if summary:
        write_summary(g, out, made, pdf)
    return printed(out, pdf)


def write_change(
    before_path: Any, after_path: Any, to: str | Path, pdf: bool = False, made: str | None = None, found: Any = None
) -> Path:
    """Write the comparison of two study folders to a file (HTML), and a PDF beside it if asked; returns the path.

    made : the date to print; found : their `Change`, where it is at hand

    Raises study.StudyError, wear.FitError, pdf.NoBrowser, disk.NotWrittenError.
    """
    from bandtrial.report.context import css_text

    out = Path(to)
    found = found or change(open_study(before_path), open_study(after_path))
    jobs = [
        {"title": f"{job.material} on {job.machine}", "setting": setting_words(job, found.system),
         "differs": differs_words(job), "rows": ratio_rows(job)}
        for job in found.jobs
    ]  # fmt: skip
    fields = {"before": found.before, "after": found.after, "jobs": jobs, "missing": found.missing,
              "made": made or today(), "version": __version__,
              "caveat": f"{said_of(found.matters)} {CAVEAT}", "warnings": found.warnings,
              "hashes": [data_hash(path) for path in (before_path, after_path)]}  # fmt: skip
    look = {"css": page.style("report.css"), "paper": page.PAPER[found.system],
            "foot": css_text(f"{found.after} against {found.before}")}  # fmt: skip
    save(out, page.render("change.html", **fields, **look).lstrip())
    return printed(out, pdf)


def write_sheet_of(
    template: str, fields: Mapping[str, object], study: Study, out: str | Path, pdf: bool, made: str | None
) -> Path:
    """Write a sheet for a machine from its template and fields to `out` (HTML, self-contained, on the paper of the
    study's units), and a PDF beside it if asked; made : the date on it, today's by default. Returns the path of the
    HTML file. Raises NoBrowser, disk.NotWrittenError.
    """
    out = Path(out)
    head = {"study_name": study.name, "made": made or today(), "paper": page.PAPER[study.units]}
    save(out, page.render(template, css=page.style("sheet.css"), **head, **fields))
    return printed(out, pdf)


def today() -> str:
    """The date that stands on a page."""
    return datetime.date.today().isoformat()


STUDY_FILES = ("study.toml", "bands.csv", "cuts.csv", "cuts.xlsx")
PACKAGES = ("bandtrial", "numpy", "scipy", "pandas", "matplotlib", "pint", "jinja2", "openpyxl")


def file_hashes(folder: str | Path) -> dict[str, str]:
    """SHA-256 of each file of the study that is there, by its name."""
    folder = Path(folder)
    return {
        name: hashlib.sha256((folder / name).read_bytes()).hexdigest()
        for name in STUDY_FILES
        if (folder / name).is_file()
    }


def data_hash(folder: str | Path) -> str:
    """One SHA-256 for the whole study: of its files' names and hashes, a line each."""
    lines = "".join(f"{digest}  {name}\n" for name, digest in file_hashes(folder).items())
    return hashlib.sha256(lines.encode()).hexdigest()


def versions() -> dict[str, str]:
    """Versions of Python and of every package that numbers and pictures come from."""
    found = {"Python": platform.python_version()}
    for package in PACKAGES:
        try:
            found[package] = metadata.version(package)
        except metadata.PackageNotFoundError:
            found[package] = "not installed as a package"
    return found


def command(folder: str | Path, out: str | Path, pdf: bool) -> str:
    """The command that makes the report again, from the folder that holds the study."""
    name = Path(folder).resolve().name
    return f"bandtrial report {_quoted(name)} -o {_quoted(Path(out).name)}{' --pdf' if pdf else ''}"


def _quoted(name: str) -> str:
    return f'"{name}"' if not name.replace("_", "").replace("-", "").replace(".", "").isalnum() else name


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


def printed(page: Path, pdf: bool) -> Path:
    """The page, with a PDF of its name beside it if asked."""
    if pdf:
        print_pdf(page, page.with_suffix(".pdf"))
    return page


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
