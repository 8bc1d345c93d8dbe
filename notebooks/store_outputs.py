"""Run the notebooks and store their checked outputs: `python notebooks/store_outputs.py [NOTEBOOK ...]`.

Kept is the text of cells whose numbers nbval compares. Cells with a panel or a plot carry the tag
nbval-ignore-output and are stored without outputs: pictures would only make the repository heavy.
"""

import sys
from pathlib import Path

import nbformat
from nbclient import NotebookClient

FOLDER = Path(__file__).parent
METADATA = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}


def store(file: Path) -> None:
    notebook = nbformat.read(file, as_version=4)
    NotebookClient(notebook, timeout=300, resources={"metadata": {"path": file.parent}}).execute()
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
        if cell.cell_type == "code" and "nbval-ignore-output" in cell.metadata.get("tags", []):
            cell.outputs, cell.execution_count = [], None
    notebook.metadata = METADATA
    nbformat.write(notebook, file)


if __name__ == "__main__":
    every = (str(file) for file in FOLDER.rglob("*.ipynb") if ".ipynb_checkpoints" not in file.parts)
    for name in sys.argv[1:] or sorted(every):
        store(Path(name))
        print(name)
