"""One window of JupyterLab as a person sees it, one notebook open in it at a time, and the moves a person makes.

Nothing here waits for time. What has been asked of the kernel is over when the kernel, which answers in order, has
answered a question put after it (`settle`); what a panel shows is complete when no part of it is still a stand-in.
Seconds are only how long a busy machine may take before a test is given up.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Locator, Page, expect

LONG = 300_000  # ms: a run of all cells on a machine that others use too
# what a healthy kernel writes to stderr when JupyterLab connects its debugger and its widgets, and as it is ended
NOISE = re.compile(
    r"\d+\.\d+s - |No such comm|Task was destroyed but it is pending!\ntask: <Task pending \S+ coro=<Kernel\.dispatch"
)

# a notebook in a tab of its own, all tabs before it closed and their kernels ended
OPEN = """async path => {
  const app = window.jupyterapp, shell = app.shell;
  const close = async kept => {
    for (const old of [...shell.widgets('main')].filter(tab => tab !== kept)) {
      const session = old.sessionContext?.session;
      if (session) await app.serviceManager.sessions.shutdown(session.id);
      old.dispose();
    }
  };
  await close(null);
  const tab = await app.commands.execute('docmanager:open', {path, factory: 'Notebook'});
  await tab.context.ready;
  await close(tab);
  shell.collapseLeft();
  shell.activateById(tab.id);
  await tab.sessionContext.ready;
  await tab.sessionContext.session.kernel.info;
  window.kernelSaid = [];
  tab.sessionContext.iopubMessage.connect((_, message) => {
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
CODE_CELLS = """window.jupyterapp.shell.currentWidget.content.widgets
  .filter(cell => cell.model.type === 'code' && cell.model.sharedModel.source.trim())"""
RUN = """async words => {
  const app = window.jupyterapp, notebook = app.shell.currentWidget.content;
  const index = notebook.widgets.findIndex(cell => cell.model.sharedModel.source.includes(words));
  notebook.activeCellIndex = index;
  void notebook.scrollToItem(index); // it may never say that it is there
  void app.commands.execute('notebook:run-cell');
}"""
FINISHED = f"""() => {{
  const cells = {CODE_CELLS};
  const outputs = cell => [...Array(cell.model.outputs.length).keys()].map(i => cell.model.outputs.get(i));
  return cells.some(cell => outputs(cell).some(output => output.type === 'error'))
      || cells.every((cell, i) => cell.model.executionCount === i + 1);
}}"""
# twice, because a control holds back what is newer until what it has sent is answered
ANSWERED = """async () => {
  const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
  for (let n = 0; n < 2; n++)
    await kernel.requestExecute({code: '', silent: true, store_history: false}).done;
}"""
# every widget is there with all its parts and its pictures, and every panel keeps its keys
DRAWN = """() => {
  const all = (selector, test) => [...document.querySelectorAll(selector)].every(test);
  return all('.jp-OutputArea-output', output => output.textContent !== 'Loading widget...')
      && all('.widget-box > *', part => /widget/.test(part.className.replace('lm-Widget', '')))
      && all('img.widget-image', picture => picture.complete)
      && all('.bandtrial-panel', panel => panel.closest('[data-keys-kept]'));
}"""


class LabPage:
    """`notebook` is the open notebook; `expected` lists kernel messages that a test provokes on purpose."""

    def __init__(self, page: Page, server):
        self.page, self.server = page, server
        self.expected: list[str] = []
        self.notebook = page.locator(".jp-NotebookPanel")
        self.ready: str | None = None
        """The notebook that is open with all its cells run and nothing gone wrong since."""

    def begin(self) -> None:
        """A new test: what the kernel said to the one before is its affair."""
        self.expected = []
        self.page.evaluate("() => { window.kernelSaid = []; }")

    def end(self) -> None:
        """Wait for what still goes on; the kernel must have said nothing but what was expected."""
        if self.page.url != "about:blank":
            self.settle()
        said = self.kernel_said()
        assert said == self.expected, f"the kernel reported {said}"

    def open(self, notebook: str) -> "LabPage":
        """In a new tab, the only one; its kernel has started."""
        self.ready = None
        if self.page.url == "about:blank":
            self.page.goto(f"{self.server.url}/lab?reset&token={self.server.token}")
            self.page.wait_for_function("() => window.jupyterapp !== undefined", timeout=LONG)
            self.page.evaluate("() => window.jupyterapp.restored.then(() => true)")
        self.page.evaluate(OPEN, notebook)
        expect(self.notebook).to_have_count(1)
        self.wait_idle()
        return self

    def opened(self, notebook: str, cell: str) -> "LabPage":
        """The notebook with all its cells run; where the last test left it so, only the cell with these words is run
        anew, so that its panel is as it was at first.
        """
        if self.ready == notebook:
            return self.run(cell)
        return self.open(notebook).restart_and_run_all()

    def press_restart_and_run_all(self) -> None:
        """The toolbar's double arrow, then Restart in the dialog."""
        self.notebook.locator('.jp-NotebookPanel-toolbar [data-jp-item-name="restart-and-run"]').click()
        self.page.locator(".jp-Dialog button.jp-mod-accept").click()
        self.page.locator(".jp-Dialog").wait_for(state="detached")

    def restart_and_run_all(self) -> "LabPage":
        """Restart and run all; every code cell must end without an error."""
        self.press_restart_and_run_all()
        return self._all_run()

    def run_all(self) -> "LabPage":
        """Run > Run All Cells, in a kernel that has just started."""
        self.page.get_by_role("menuitem", name="Run", exact=True).click()
        self.page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
        return self._all_run()

    def _all_run(self) -> "LabPage":
        self.page.wait_for_function(FINISHED, timeout=LONG)  # idle alone is also true before the first cell
        self.settle()
        assert self.kernel_said() == self.expected
        self.ready = self.page.evaluate("() => window.jupyterapp.shell.currentWidget.context.path")
        return self

    def run(self, words: str) -> "LabPage":
        """Run the one cell with these words again, folded or not, by the command that Ctrl+Enter stands for: keys would
        go to wherever the focus still is."""
        with self.runs_a_cell():
            self.page.evaluate(RUN, words)
        return self

    @contextmanager
    def runs_a_cell(self) -> Iterator[None]:
        """Inside the block one cell has to be run."""
        newest = f"Math.max(...{CODE_CELLS}.map(cell => cell.model.executionCount))"
        before = self.page.evaluate(f"() => {newest}")
        yield
        self.page.wait_for_function(f"before => {newest} === before + 1", arg=before, timeout=LONG)
        self.settle()

    def wait_idle(self) -> None:
        self.page.wait_for_function(IDLE, timeout=LONG)

    def settle(self) -> None:
        """Wait until all that was done to the page so far has been answered and drawn."""
        self.wait_idle()
        self.page.evaluate(ANSWERED)
        self.page.wait_for_function(DRAWN)

    def kernel_said(self) -> list[str]:
        """Errors and stderr of the kernel since the notebook was opened, those of callbacks included."""
        said = self.page.evaluate("() => window.kernelSaid || []")
        return [text for text in said if not NOISE.match(text)]

    def focus(self, control: Locator) -> None:
        """Put the focus on a control, once all before it is answered and drawn."""
        self.settle()
        control.scroll_into_view_if_needed()
        control.focus()
        expect(control).to_be_focused()

    def slider(self, name: str) -> Locator:
        return self.notebook.get_by_role("slider", name=name, exact=True)

    def slider_at(self, name: str) -> float:
        return float(self.slider(name).get_attribute("aria-valuenow"))

    def field(self, name: str) -> Locator:
        return self.notebook.get_by_label(name, exact=True)

    def button(self, name: str) -> Locator:
        return self.notebook.get_by_role("button", name=name, exact=True)

    def says(self) -> Locator:
        """The lines in which panels say how things stand."""
        return self.notebook.get_by_role("status")

    def panel(self, control: Locator) -> Locator:
        """The panel that has a control."""
        return control.locator("xpath=ancestor::*[contains(@class, 'jp-OutputArea-output')][1]")

    def plot(self, index: int = 0) -> Locator:
        return self.notebook.locator(".widget-image").nth(index)

    @contextmanager
    def redraws(self, plot: Locator) -> Iterator[None]:
        """Inside the block the picture has to change."""
        self.settle()
        before = plot.get_attribute("src")
        assert before
        yield
        expect(plot).not_to_have_attribute("src", before)
        self.settle()

    def choose_file(self, button: str, file) -> None:
        """Press the upload button and pick a file, as a person does."""
        with self.page.expect_file_chooser() as chooser:
            self.notebook.get_by_role("button", name=button).click()
        chooser.value.set_files(file)

    def cells(self) -> int:
        return self.notebook.locator(".jp-Cell").count()

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)
