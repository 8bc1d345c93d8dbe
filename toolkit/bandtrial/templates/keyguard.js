// Controls that can be used by keyboard inside a notebook without the notebook hearing the keys.
//
// While a control of an output has the focus, JupyterLab also takes plain keys as shortcuts: `d d` deletes the
// cell, `b` inserts one, an arrow leaves the drop-down for the next cell. The script below keeps plain keys
// inside the output; keys with Ctrl, Alt or Cmd and Shift+Enter still reach the notebook. It also names for
// screen readers what ipywidgets leaves nameless: sliders by their label, pictures by their caption. And it lets a
// picture's marks be asked what they are (`picture`): by pointing near one, or with the arrow keys on the picture.
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
  const ask = (svg, mark) => {
    if (!mark || mark.hasAttribute('data-asked')) return;
    svg.querySelector('[data-asked]')?.removeAttribute('data-asked');
    mark.setAttribute('data-asked', '');
    svg.previousElementSibling.textContent = mark.textContent;
  };
  output.addEventListener('pointermove', event => {
    const svg = event.target.closest?.('.bandtrial-marks svg');
    if (!svg) return;
    const box = svg.getBoundingClientRect(), scale = svg.viewBox.baseVal.width / box.width;
    const away = mark => Math.hypot(mark.cx.baseVal.value - (event.clientX - box.left) * scale,
                                    mark.cy.baseVal.value - (event.clientY - box.top) * scale);
    const marks = [...svg.children].map(mark => [away(mark), mark]).sort((a, b) => a[0] - b[0]);
    if (marks[0][0] < 12) ask(svg, marks[0][1]);
  });
  output.addEventListener('keydown', event => {
    const svg = event.target.closest?.('.bandtrial-marks svg');
    const step = {ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1, Home: -Infinity, End: Infinity}[event.key];
    if (!svg || !step) return;
    const marks = [...svg.children], at = marks.findIndex(mark => mark.hasAttribute('data-asked'));
    ask(svg, marks[Math.min(Math.max(at + step, 0), marks.length - 1)]);
    event.preventDefault();
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
      picture.querySelector('img')?.setAttribute('alt', picture.lastElementChild.innerText.trim());
    for (const svg of output.querySelectorAll('.bandtrial-marks svg')) {
      give(svg, 'tabindex', '0');
      give(svg, 'aria-label', 'marks of the picture');
    }
    for (const line of output.querySelectorAll('.bandtrial-says')) give(line, 'role', 'status');
  };
  nameAll();
  new MutationObserver(nameAll).observe(output, {childList: true, subtree: true});
};
if (document.querySelector('.jp-Notebook')) keep();
