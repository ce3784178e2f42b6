"""Published experiments and open data, run again with the model and its recorded values.

Inputs that a publication does not give are named in each case. No value was fitted to one
laboratory. A case that misses its band says so, and why, and is held to what it reaches.
"""

from __future__ import annotations

import pytest

from pleuston.base import references

from .case import Case, Finding, MissingDataError
from .cases import CASES


@pytest.mark.parametrize(
    "case",
    [pytest.param(c, id=c.name, marks=[pytest.mark.slow] if c.slow else []) for c in CASES],
)
def test_case(case: Case) -> None:
    try:
        found = case.run()
    except MissingDataError as missing:
        pytest.skip(f"the folder of open data beside the project has no {missing}")
    assert found
    for f in found:
        assert f.low <= f.high, f.what
        assert f.reason, f.what
        assert (f.held is None) == (not f.because), f.what
        assert f.holds, f"{f.what}: {f.predicted:.4g} {f.unit}, {f.held or (f.low, f.high)}"


def test_every_case_has_a_known_source_and_a_name_of_its_own() -> None:
    known = references.load()
    assert len(CASES) > 25
    assert [c.name for c in CASES if c.source not in known or not c.where or not c.assumed] == []
    assert len({c.name for c in CASES}) == len(CASES)


def test_a_finding_outside_its_band_is_a_miss_even_where_it_is_held() -> None:
    held = Finding("x", "1", (2.0, 2.0), 3.0, 1.8, 2.2, "why", held=(2.2, 4.0), because="so")
    assert not held.meets
    assert held.holds
    assert held.error == pytest.approx(0.5)
    beyond = Finding("x", "%", (60.0, 70.0), 90.0, 55.0, 75.0, "why", held=(75.0, 80.0))
    assert not beyond.holds
    assert beyond.error == pytest.approx(20.0)
