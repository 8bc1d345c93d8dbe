"""Plain keys in a control never reach the notebook, where they would delete and insert cells."""

import nbformat
import pytest
from playwright.sync_api import expect

KERNEL = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
CONTROLS = """
import ipywidgets as W
from bandtrial.panels.base import Panel
said = W.Label()
speed = W.FloatSlider(description="band speed", min=10, max=100, value=50, step=1)
edge = W.Dropdown(description="edge", options=["carbon", "bimetal", "carbide"])
goal = W.RadioButtons(description="goal", options=["cost", "output"])
dry = W.Checkbox(description="dry")
save = W.Button(description="Save")
note = W.Text(description="note")
def tell(*_):
    said.value = f"{speed.value:g} {edge.value} {goal.value} {dry.value} {note.value}"
for w in (speed, edge, goal, dry, note):
    w.observe(tell, "value")
save.on_click(lambda _: setattr(said, "value", "saved"))
PANEL([speed, edge, goal, dry, save, note, said])
"""


@pytest.fixture
def controls(lab_page, server):
    def opened(panel: str):
        name = f"{panel}.ipynb"
        if lab_page.ready == name:
            return lab_page.opened(name, "ipywidgets")
        cells = [nbformat.v4.new_code_cell(CONTROLS.replace("PANEL", panel)), nbformat.v4.new_code_cell("1 + 1")]
        notebook = nbformat.v4.new_notebook(cells=cells, metadata=KERNEL)
        nbformat.write(notebook, server.root / name)
        return lab_page.open(name).restart_and_run_all()

    return opened


def test_a_bare_control_lets_keys_through(controls):
    """The trap itself: without the guard `b` in a button inserts a cell. If this fails, the guard is not needed."""
    lab = controls("W.VBox")
    cells = lab.cells()
    lab.focus(lab.button("Save"))
    lab.press("b")
    expect(lab.notebook.locator(".jp-Notebook .jp-Cell")).to_have_count(cells + 1)


def test_a_panel_keeps_its_keys(controls):
    lab = controls("Panel")
    cells = lab.cells()
    said = lab.notebook.locator(".widget-label").last
    slider = lab.slider("band speed")
    lab.focus(slider)
    lab.press("d", "d", "b", "a", "x", "m", "Home", "ArrowRight")
    expect(said).to_have_text("11 carbon cost False")
    lab.focus(lab.field("edge"))
    lab.press("b", "ArrowDown")
    expect(said).to_have_text("11 carbide cost False")  # the letter is type-ahead: bimetal; the arrow goes on
    lab.focus(lab.notebook.get_by_role("radio", name="cost"))
    lab.press("d", "d", "ArrowDown")
    expect(said).to_have_text("11 carbide output False")
    lab.focus(lab.notebook.get_by_role("checkbox", name="dry"))
    lab.press("x", "Space")
    expect(said).to_have_text("11 carbide output True")
    lab.focus(lab.button("Save"))
    lab.press("d", "d", "b", "Enter")
    expect(said).to_have_text("saved")
    lab.focus(lab.field("note"))
    lab.page.keyboard.type("odd bb")
    expect(said).to_have_text("11 carbide output True odd bb")
    assert lab.cells() == cells


def test_keys_for_the_notebook_still_pass(controls):
    lab = controls("Panel")
    lab.focus(lab.button("Save"))
    with lab.runs_a_cell():
        lab.press("Shift+Enter")
