"""Fixtures: one JupyterLab and one Chromium for all browser tests, one page for each.

No request may leave this machine, and nothing may go wrong unseen: the page fails its test for a request to another
host, an error in the page, or an error in the kernel that no cell shows.
"""

import os
import shutil
from pathlib import Path

import nbformat
import pytest
from lab_page import LabPage
from lab_server import LabServer

ROOT = Path(__file__).parents[2]
SECONDS = 30  # what a busy machine may take for anything a person waits for
CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
]  # fmt: skip
RESTART = "Canceled future for"  # JupyterLab's own words on what a kernel restart, or closing the page, cut off
SHOTS = ROOT / "shots"  # pictures for people to look at; not kept in the repository


def pytest_collection_modifyitems(items):
    for item in items:
        item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def server(tmp_path_factory):
    lab = LabServer(tmp_path_factory.mktemp("home"), tmp_path_factory.mktemp("served"))
    for folder in ("notebooks", "trial_data"):
        if (ROOT / folder).is_dir():
            shutil.copytree(ROOT / folder, lab.root / folder)
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


@pytest.fixture
def lab_page(server, chromium):
    context = chromium.new_context(viewport={"width": 1280, "height": 1000})
    context.set_default_timeout(SECONDS * 1000)
    page = context.new_page()
    elsewhere, errors = [], []
    ours = (server.url, server.url.replace("http", "ws", 1), "data:", "blob:")
    page.on("request", lambda request: None if request.url.startswith(ours) else elsewhere.append(request.url))
    page.on("pageerror", lambda error: None if RESTART in str(error) else errors.append(str(error)))
    lab = LabPage(page, server)
    yield lab
    said = lab.kernel_said()
    context.close()
    assert said == lab.expected, f"the kernel reported {said}"
    assert not elsewhere, f"the page asked other machines: {elsewhere}"
    assert not errors, f"the page failed: {errors}"


@pytest.fixture
def with_study(server):
    """with_study(notebook, folder): the notebook on another study, by changing its one line; its new name."""

    def changed(notebook: str, folder: str | Path) -> str:
        found = nbformat.read(server.root / notebook, as_version=4)
        lines = found.cells[1].source.splitlines()
        (at,) = [n for n, line in enumerate(lines) if line.startswith("STUDY = ")]
        lines[at] = f"STUDY = {str(folder)!r}"
        found.cells[1].source = "\n".join(lines)
        name = f"notebooks/own_{Path(notebook).name}"
        nbformat.write(found, server.root / name)
        return name

    return changed


@pytest.fixture
def shot(lab_page):
    """shot(name): a picture of the page as it is now, into the folder `shots`."""

    def take(name: str, whole: bool = False):
        SHOTS.mkdir(exist_ok=True)
        lab_page.page.screenshot(path=SHOTS / f"{name}.png", full_page=whole)

    return take
