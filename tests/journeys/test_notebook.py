"""The tutorial notebook runs from top to bottom."""

from __future__ import annotations

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

NOTEBOOK = Path(__file__).parents[2] / "docs" / "tutorial" / "a-tank-in-python.ipynb"


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_notebook_runs(tmp_path: Path) -> None:
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    client = NotebookClient(
        notebook, timeout=300, kernel_name="python3", resources={"metadata": {"path": tmp_path}}
    )
    client.execute()
    printed = "".join(
        output.get("text", "") for cell in notebook.cells for output in cell.get("outputs", [])
    )
    assert "readings" in printed
    assert "growth_max" in printed
