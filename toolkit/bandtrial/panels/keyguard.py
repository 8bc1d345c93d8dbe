"""Controls that can be used by keyboard inside a notebook without the notebook hearing the keys.

While a control of an output has the focus, JupyterLab also takes plain keys as shortcuts: `d d` deletes the
cell, `b` inserts one, an arrow leaves the drop-down for the next cell. The script below keeps plain keys
inside the output; keys with Ctrl, Alt or Cmd and Shift+Enter still reach the notebook. It also names for
screen readers what ipywidgets leaves nameless: sliders by their label, pictures by their caption.
"""

SCRIPT = """
let looks = 0;
const keep = () => {
  const output = element.closest('.jp-Cell-outputArea');
  if (!output) {  // not yet in the page, if it ever comes there
    if (++looks < 1000) requestAnimationFrame(keep);
    return;
  }
  if (output.dataset.keysKept) return;
  output.dataset.keysKept = 'yes';
  output.addEventListener('keydown', event => {
    const forNotebook = event.ctrlKey || event.altKey || event.metaKey
      || (event.shiftKey && event.key === 'Enter');
    if (!forNotebook) event.stopPropagation();
  });
  const give = (node, attribute, text) => {
    if (text && !node.hasAttribute(attribute)) node.setAttribute(attribute, text);
  };
  const nameAll = () => {
    for (const slider of output.querySelectorAll('.widget-slider')) {
      const label = slider.querySelector('.widget-label');
      for (const handle of slider.querySelectorAll('[role=slider]'))
        give(handle, 'aria-label', label && label.textContent);
    }
    for (const picture of output.querySelectorAll('.bandtrial-picture'))
      picture.querySelector('img')?.setAttribute('alt', picture.innerText.trim());
    for (const line of output.querySelectorAll('.bandtrial-says')) give(line, 'role', 'status');
  };
  nameAll();
  new MutationObserver(nameAll).observe(output, {childList: true, subtree: true});
};
if (document.querySelector('.jp-Notebook')) keep();
"""


def keep_keys() -> None:
    """Run the script in the output area of the cell that is running; does nothing outside a notebook."""
    from IPython.display import Javascript, display

    display(Javascript(SCRIPT))
