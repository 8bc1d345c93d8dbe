"""`bandtrial lab` as a newcomer meets it: from the command to the first plot, with nothing in the way."""

import re
import signal
import subprocess
import sys
import time

import pytest
from conftest import Window
from playwright.sync_api import expect


@pytest.fixture
def started(tmp_path):
    """The command as typed, in a home of its own: (seconds when started, its address)."""
    home = {"HOME": str(tmp_path), "MPLCONFIGDIR": str(tmp_path / "mpl"), "PYDEVD_DISABLE_FILE_VALIDATION": "1"}
    began = time.perf_counter()
    with subprocess.Popen(
        [sys.executable, "-m", "bandtrial", "lab", "--no-browser", "--allow-root"],
        stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
        env={"PATH": "/usr/bin:/bin", **home}, start_new_session=True,
    ) as process:  # fmt: skip
        address = None
        while address is None:
            line = process.stderr.readline()
            assert line, "the server ended"
            address = re.search(r"http://127\.0\.0\.1:\d+/lab/tree/notebooks/1_\S+\?token=[0-9a-f]{20,}", line)
        yield began, address[0]
        process.send_signal(signal.SIGTERM)
        process.stderr.read()  # ends when the server and its kernels have ended


def test_from_the_command_to_the_first_plot(started, chromium, capsys):
    began, address = started
    window = Window(chromium, address.partition("/lab")[0])
    page = window.page
    page.goto(address)
    page.locator(".jp-NotebookPanel .jp-Notebook").wait_for()
    shown = time.perf_counter()
    # JupyterLab loses the cells it was told to run when a kernel is restarted before it has started; the toolbar's
    # circle says "idle" before there is a kernel, the status bar only of a kernel that is connected
    expect(page.locator("#jp-main-statusbar")).to_contain_text("Python 3 (ipykernel) | Idle")
    expect(page.locator(".jp-Dialog, .Toastify__toast")).to_have_count(0)  # no question about news, no pop-up
    page.locator('.jp-NotebookPanel-toolbar [data-jp-item-name="restart-and-run"]').click()
    page.locator(".jp-Dialog button.jp-mod-accept").click()
    expect(page.locator(".widget-image")).to_have_attribute("src", re.compile("^blob:"))
    plotted = time.perf_counter()
    expect(page.locator(".bandtrial-start")).to_contain_text("First cut169 ft/min")

    page.locator(".jp-BreadCrumbs-home").click()  # the whole folder: the notebooks and the invented shops
    items = page.locator(".jp-DirListing-itemName")
    expect(items).to_have_text(["notebooks", "trial_data"])
    for side in ("Running Terminals and Kernels", "Table of Contents", "Extension Manager"):
        page.get_by_role("tab", name=side).first.click()
    expect(page.locator(".jp-extensionmanager-view")).to_be_visible()
    window.nothing_went_wrong()
    window.context.close()
    with capsys.disabled():
        print(f"\nlab: notebook shown after {shown - began:.1f} s, first plot after {plotted - began:.1f} s")


def test_a_page_that_asks_another_machine_is_found_out(chromium):
    """The watch itself, tried: if this fails, no other test shows that nothing was asked."""
    window = Window(chromium, "http://127.0.0.1:1")
    window.page.evaluate("() => fetch('http://elsewhere.invalid/').catch(() => 0)")
    with window.page.expect_websocket():
        window.page.evaluate("() => { new WebSocket('ws://elsewhere.invalid/'); }")
    window.context.close()
    with pytest.raises(AssertionError) as failed:
        window.nothing_went_wrong()
    assert "asked other machines: ['http://elsewhere.invalid/', 'ws://elsewhere.invalid/']" in str(failed.value)
