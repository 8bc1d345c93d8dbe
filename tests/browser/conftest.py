"""Fixtures: one JupyterLab, one window of one Chromium and in it one tab after the other, for all browser tests.

No request may leave this machine, and nothing may go wrong unseen: the window fails a test for a request to another
host, an error in the page, or an error in the kernel that no cell shows.
"""

import os
from pathlib import Path

import nbformat
import pytest
from bandtrial.commands.lab import PACKAGE, lay_out
from lab_page import LabPage
from lab_server import LabServer

ROOT = Path(__file__).parents[2]
SECONDS = 120  # after which anything a person waits for is given up; nothing here waits for time
CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
]  # fmt: skip
RESTART = "Canceled future for"  # JupyterLab's own words on what a kernel restart, or closing a tab, cut off
SHOTS = ROOT / "shots"  # pictures for people to look at; not kept in the repository


collect_ignore = [] if os.environ.get("RESTARTS") else ["test_restarts.py"]  # it says how to run it

FAILED = pytest.StashKey[bool]()


def pytest_collection_modifyitems(items):
    for item in items:
        item.add_marker(pytest.mark.browser)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    report = yield
    if report.failed:
        item.stash[FAILED] = True
    return report


@pytest.fixture(scope="session")
def server(tmp_path_factory):
    lab = LabServer(tmp_path_factory.mktemp("home"), tmp_path_factory.mktemp("served"))
    lay_out(lab.root, PACKAGE)
    yield lab.start()
    lab.stop()


@pytest.fixture(scope="session")
def chromium():
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=SECONDS * 1000)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGUMENTS)
        yield browser
        browser.close()


class Window:
    """A browser window on a server, and what went on in it: requests to others, errors of the page."""

    def __init__(self, chromium, url: str):
        self.ours = (url, url.replace("http", "ws", 1), "data:", "blob:")
        self.elsewhere, self.errors = list[str](), list[str]()
        self.context = chromium.new_context(viewport={"width": 1280, "height": 1000})
        self.context.set_default_timeout(SECONDS * 1000)
        self.context.on("request", lambda request: self._asked(request.url))
        self.context.on("weberror", lambda found: self._failed(str(found.error)))
        self.page = self.context.new_page()
        self.page.on("websocket", lambda socket: self._asked(socket.url))

    def _asked(self, url: str) -> None:
        if not url.startswith(self.ours):
            self.elsewhere.append(url)

    def _failed(self, error: str) -> None:
        if RESTART not in error:
            self.errors.append(error)

    def nothing_went_wrong(self) -> None:
        assert not self.elsewhere, f"the page asked other machines: {self.elsewhere}"
        assert not self.errors, f"the page failed: {self.errors}"


@pytest.fixture(scope="session")
def windows(server, chromium):
    """The one window that tests use after each other; a test that fails leaves none."""
    held: list[tuple[Window, LabPage]] = []
    yield held
    for window, _ in held:
        window.context.close()


@pytest.fixture
def lab_page(request, server, chromium, windows):
    if not windows:
        window = Window(chromium, server.url)
        windows.append((window, LabPage(window.page, server)))
    window, lab = windows.pop()
    lab.begin()
    yield lab
    try:
        if not request.node.stash.get(FAILED, False):
            lab.end()
        window.nothing_went_wrong()
    except BaseException:
        request.node.stash[FAILED] = True
        raise
    finally:
        if request.node.stash.get(FAILED, False):
            window.context.close()
        else:
            windows.append((window, lab))


@pytest.fixture
def with_study(server):
    """with_study(notebook, folder): the notebook on another study, by changing its one line; its new name."""

    def changed(notebook: str, folder: str | Path) -> str:
        found = nbformat.read(server.root / notebook, as_version=4)
        lines = found.cells[1].source.splitlines()
        (at,) = [n for n, line in enumerate(lines) if line.startswith("STUDY = ")]
        lines[at] = f"STUDY = study_folder({str(folder)!r})"
        found.cells[1].source = "\n".join(lines)
        n = len(list((server.root / "notebooks").glob("own_*")))
        name = f"notebooks/own_{n}_{Path(notebook).name}"
        nbformat.write(found, server.root / name)
        return name

    return changed


@pytest.fixture
def shot(lab_page):
    """shot(name): a picture of the page as it is now, into the folder `shots`."""

    def take(name: str, whole: bool = False):
        SHOTS.mkdir(exist_ok=True)
        lab_page.settle()
        lab_page.page.screenshot(path=SHOTS / f"{name}.png", full_page=whole)

    return take
