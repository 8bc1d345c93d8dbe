"""One notebook, open in JupyterLab as a person sees it, and the moves a person makes in it."""

import re

from playwright.sync_api import Locator, Page, expect

# what a healthy kernel writes to stderr when JupyterLab connects its debugger and its widgets, and as it is ended
NOISE = re.compile(
    r"\d+\.\d+s - |No such comm|Task was destroyed but it is pending!\ntask: <Task pending \S+ coro=<Kernel\.dispatch"
)

LISTEN = """() => {
  window.kernelSaid = [];
  window.jupyterapp.shell.currentWidget.sessionContext.iopubMessage.connect((_, message) => {
    const kind = message.header.msg_type, content = message.content;
    if (kind === 'error') window.kernelSaid.push(content.ename + ': ' + content.evalue);
    if (kind === 'stream' && content.name === 'stderr') window.kernelSaid.push(content.text);
  });
}"""
IDLE = """() => {
  const session = window.jupyterapp?.shell?.currentWidget?.sessionContext;
  const kernel = session?.session?.kernel;
  const waiting = [...document.querySelectorAll('.jp-InputPrompt')].some(p => p.textContent.includes('*'));
  return kernel?.connectionStatus === 'connected' && kernel.status === 'idle' && !waiting;
}"""
# JupyterLab puts the focus on the last cell some time after it has run: a key pressed before would go astray
QUIET = """() => new Promise(done => {
  let calm = 0;
  const end = Date.now() + 5000;
  const look = deadline => {
    calm = deadline.timeRemaining() > 20 ? calm + 1 : 0;
    if (calm >= 10 || Date.now() > end) done(); else setTimeout(() => requestIdleCallback(look), 50);
  };
  requestIdleCallback(look);
})"""
CODE_CELLS = """window.jupyterapp.shell.currentWidget.content.widgets
  .filter(cell => cell.model.type === 'code' && cell.model.sharedModel.source.trim())"""
FINISHED = f"""() => {{
  const cells = {CODE_CELLS};
  const outputs = cell => [...Array(cell.model.outputs.length).keys()].map(i => cell.model.outputs.get(i));
  return cells.some(cell => outputs(cell).some(output => output.type === 'error'))
      || cells.every((cell, i) => cell.model.executionCount === i + 1);
}}"""


class LabPage:
    """A notebook in single-document mode; `expected` lists kernel messages that a test provokes on purpose."""

    def __init__(self, page: Page, server):
        self.page, self.server, self.expected = page, server, []

    def open(self, notebook: str) -> "LabPage":
        self.page.goto(f"{self.server.url}/doc/tree/{notebook}?token={self.server.token}")
        self.page.locator(".jp-NotebookPanel .jp-Notebook").wait_for(timeout=60_000)
        self.page.wait_for_function(IDLE, timeout=60_000)
        self.page.evaluate(LISTEN)
        return self

    def press_restart_and_run_all(self) -> None:
        """The toolbar's double arrow, then Restart in the dialog."""
        self.page.locator('.jp-NotebookPanel-toolbar [data-jp-item-name="restart-and-run"]').click()
        self.page.locator(".jp-Dialog button.jp-mod-accept").click()
        self.page.locator(".jp-Dialog").wait_for(state="detached")

    def restart_and_run_all(self, timeout: int = 120_000) -> "LabPage":
        """Restart and run all; every code cell must end without an error."""
        self.press_restart_and_run_all()
        self.page.wait_for_function(FINISHED, timeout=timeout)  # idle alone is also true before the first cell
        self.page.wait_for_function(IDLE, timeout=timeout)
        self.page.evaluate(QUIET)
        assert self.kernel_said() == self.expected
        return self

    def wait_idle(self) -> None:
        self.page.wait_for_function(IDLE, timeout=60_000)

    def kernel_said(self) -> list[str]:
        """Errors and stderr of the kernel since the notebook was opened, those of callbacks included."""
        said = self.page.evaluate("() => window.kernelSaid || []")
        return [text for text in said if not NOISE.match(text)]

    def focus(self, control: Locator) -> None:
        """Scroll to a control and put the focus on it, once the page is still: a cell that comes into view may be
        drawn anew."""
        control.scroll_into_view_if_needed()
        self.page.evaluate(QUIET)
        control.focus()
        expect(control).to_be_focused()

    def slider(self, name: str) -> Locator:
        return self.page.get_by_role("slider", name=name, exact=True)

    def slider_at(self, name: str) -> float:
        return float(self.slider(name).get_attribute("aria-valuenow"))

    def field(self, name: str) -> Locator:
        return self.page.get_by_label(name, exact=True)

    def button(self, name: str) -> Locator:
        return self.page.get_by_role("button", name=name, exact=True)

    def plot(self, index: int = 0) -> Locator:
        return self.page.locator(".widget-image").nth(index)

    def redraws(self, plot: Locator):
        """Use as `with lab_page.redraws(plot): ...`: inside the block the picture has to change."""
        return _Redraws(plot)

    def choose_file(self, button: str, file) -> None:
        """Press the upload button and pick a file, as a person does."""
        with self.page.expect_file_chooser() as chooser:
            self.page.get_by_role("button", name=button).click()
        chooser.value.set_files(file)

    def cells(self) -> int:
        return self.page.locator(".jp-Notebook .jp-Cell").count()

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)


class _Redraws:
    def __init__(self, plot: Locator):
        self.plot = plot

    def __enter__(self):
        self.before = self.plot.get_attribute("src")
        assert self.before

    def __exit__(self, kind, error, trace):
        if kind is None:
            expect(self.plot).not_to_have_attribute("src", self.before)
