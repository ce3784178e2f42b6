"""The laws are all there: pytest collects as many of each kind as the model has subjects."""

from __future__ import annotations

import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

from . import laws
from .evaluate import tank

HERE = Path(__file__).parent


def collected() -> Counter[str]:
    """How often each test function of this folder is collected."""
    options = ["--collect-only", "-q", "-p", "no:cacheprovider"]
    command = [sys.executable, "-m", "pytest", *options, str(HERE)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=HERE.parents[1], check=False)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    names = re.findall(r"::(test_\w+)(?:\[|$)", done.stdout, flags=re.MULTILINE)
    return Counter(names)


def test_as_many_laws_as_subjects() -> None:
    found = collected()
    assert {name: found[name] for name in laws.counted()} == laws.counted()
    model = tank()
    assert found["test_jumps_agree"] == len(model.jumps)
    assert found["test_kernel_drains_no_empty_store"] == sum(
        s.floor == 0.0 and s.name != "water" for s in model.states.values()
    )
    assert sum(laws.counted().values()) > 6000


def test_no_list_is_thin() -> None:
    """The sizes themselves: a filter gone wrong would empty a list and its law with it."""
    model = tank()
    assert len(model.rows) > 150
    assert len(model.moves) > 100
    assert len(laws.balances()) == (len(model.rows) + len(model.moves)) * 15
    floored = {s.name for s in model.states.values() if s.floor == 0.0}
    assert {s for _, s in laws.drains()} == floored - {"soil_mass"}, "no row takes soil away"
    per_living = Counter(b for b, _ in laws.living())
    assert min(per_living[f"floater{i}_carbon"] for i in (1, 2, 3)) >= 15
    assert min(per_living[f"{a}_body"] for a in ("fish", "shrimp", "snails")) >= 10
