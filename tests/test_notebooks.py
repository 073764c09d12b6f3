"""The notebooks run, hold no outputs and define nothing."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

NOTEBOOKS = sorted((Path(__file__).parent.parent / "notebooks").glob("*.ipynb"))
LONGER = "2-finding-the-cadence"


@pytest.mark.parametrize(
    "path",
    [pytest.param(p, marks=pytest.mark.proof if p.stem == LONGER else ()) for p in NOTEBOOKS],
    ids=[path.stem for path in NOTEBOOKS],
)
def test_notebook_runs_as_committed(path, monkeypatch):
    """Code cells run in order in one namespace; outputs are not committed."""
    monkeypatch.chdir(path.parent)
    cells = [c for c in json.loads(path.read_text())["cells"] if c["cell_type"] == "code"]
    assert cells
    namespace: dict[str, object] = {}
    for cell in cells:
        source = "".join(cell["source"])
        assert cell["outputs"] == []
        assert cell["execution_count"] is None
        assert not re.search(r"^\s*(def|class) ", source, re.MULTILINE)
        exec(compile(source, path.name, "exec"), namespace)
