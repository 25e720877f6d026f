"""Every notebook runs from top to bottom, and none carries its outputs."""

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

NOTEBOOKS = sorted((Path(__file__).resolve().parents[2] / "notebooks").glob("*.ipynb"))


def test_there_are_notebooks() -> None:
    assert NOTEBOOKS


# The kernel's client closes its sockets late; that is not ours to mend.
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_runs(path: Path, tmp_path: Path) -> None:
    pytest.importorskip("ipywidgets")
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook, timeout=300, kernel_name="python3", resources={"metadata": {"path": str(tmp_path)}}
    )
    # The client would make the front end's half of a slider; it does not know the protocol of ipywidgets 6 (Debian 12).
    client.comm_open_handlers = {}
    client.execute()
    last = [cell for cell in notebook.cells if cell.cell_type == "code"][-1]
    assert "assert" in last.source, "a notebook ends with a check"


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_carries_no_outputs(path: Path) -> None:
    for cell in nbformat.read(path, as_version=4).cells:
        assert not cell.get("outputs"), f"{path.name} holds outputs; clear them before a commit"
