"""Altered models against readings: the change that was made is the one that is found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from pleuston.engine.case import Case, tank_case
from pleuston.engine.kernel import Array
from pleuston.engine.run import run_tank
from pleuston.inference.alterations import ALTERATIONS, Members
from pleuston.inference.evidence import MOST, TRUST, Factor, factors_of, unknown_factor
from pleuston.inference.tank import PREDICTED
from pleuston.records.record import Entry, Rack, Record, Tank, Water

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
WEEKS, ONSET = 10, 49.0
DH = 1.0 / 0.356652
READ = {
    "ammonium": (1.0, "mg/L"), "nitrate": (1.0, "mg/L"), "phosphate_ion": (94.97 / 30.974, "mg/L"),
    "ec25": (1.0, "uS/cm"), "gh": (DH, "dH"), "kh": (DH, "dH"), "cover": (100.0, "%"),
}  # fmt: skip
OUTPUT = {**PREDICTED, "phosphate_ion": "phosphate_concentration"}


def _entry(day: float, kind: str, what: str, amount: float, unit: str = "") -> Entry:
    at = START + timedelta(days=day)
    return Entry(f"{kind}-{what}-{day}", at, "Elm", kind, what, amount, amount, unit)


def _record(readings: Sequence[Entry] = (), weeks: int = WEEKS) -> Record:
    tank = Tank("Elm", 30.0, 0.1, top_up_water="pipe", lid="open",
                started=START - timedelta(days=400), light_hours=9.0, light_ppfd=80.0)  # fmt: skip
    entries = [
        _entry(0.0, "plant_in", "Lemna minor", 20.0, "g"),
        _entry(0.0, "stock_in", "Neocaridina davidi", 12.0),
        *(_entry(d + 0.4, "feed", "flake", 0.08, "g") for d in range(7 * weeks)),
        *(_entry(7.0 * w, "top_up", "pipe", 1.0, "L") for w in range(1, weeks + 1)),
        *(_entry(7.0 * w + 0.01, "harvest", "Lemna minor", 6.0, "g") for w in range(1, weeks + 1)),
        *readings,
    ]
    return Record(
        Rack(name="Shelf", timezone="Etc/UTC"), tanks=(tank,),
        waters=(Water("pipe", kind="tap", kh_dh=5.0, gh_dh=8.0),),
        entries=tuple(sorted(entries, key=lambda e: e.at)),
    )  # fmt: skip


def _noted(cause: str, size: float = 0.0) -> Record:
    """A record whose readings come from a tank that was altered on one day, or not at all."""
    bare = _record()
    case = tank_case(bare, "Elm", START + timedelta(days=7.0 * WEEKS + 1.0))
    days = np.array([7.0 * w - 0.02 for w in range(1, WEEKS + 1)])
    outputs = sorted({OUTPUT[q] for q in READ})
    states, parameters = case.start({}, 1), case.parameters({}, 1)
    first = _run(case, 0.0, ONSET, days, states, parameters, outputs)
    changed = Members(case, ONSET, first.end.copy(), parameters.copy())
    if cause:
        ALTERATIONS[cause].act(changed, np.array([size]))
    end = 7.0 * WEEKS
    second = _run(case, ONSET, end, days, changed.states, changed.parameters, outputs)
    readings = []
    for run, low, high in ((first, 0.0, ONSET), (second, ONSET, end)):
        for day in days[(days > low) & (days <= high)]:
            row = int(np.searchsorted(run.times, day))
            readings += [
                _entry(float(day), "reading", q, float(run.of(OUTPUT[q])[row, 0]) * scale, unit)
                for q, (scale, unit) in READ.items()
            ]
    return _record(readings)


def _run(
    case: Case, start: float, end: float, days: Array, states: Array, parameters: Array,
    outputs: list[str],
):  # type: ignore[no-untyped-def]  # fmt: skip
    moments = [*days[(days > start) & (days < end)], end]
    return run_tank(case.schedule(start, end, moments), states, parameters, outputs=outputs,
                    scale=case.scale)  # fmt: skip


AT = START + timedelta(days=7.0 * WEEKS)


@pytest.mark.parametrize(
    ("cause", "size"),
    [("overfeeding", 8.0), ("softened_water", 0.4), ("osmotic_step", 0.5)],
)
def test_the_change_that_was_made_is_found_and_dated(cause: str, size: float) -> None:
    found = factors_of(_noted(cause, size), "Elm", AT, members=80)
    best = max(found, key=lambda c: found[c].log)
    assert best == cause
    assert found[cause].log > 0.5 * TRUST
    since = found[cause].since
    assert since is not None
    assert abs((since - START).total_seconds() / 86400.0 - ONSET) <= 11.0


def test_where_nothing_was_changed_no_change_is_found() -> None:
    found = factors_of(_noted(""), "Elm", AT, members=80)
    assert set(found) == set(ALTERATIONS)
    assert max(f.log for f in found.values()) < 0.5 * TRUST


def test_too_short_a_record_says_nothing() -> None:
    assert factors_of(_record(weeks=3), "Elm", START + timedelta(days=21)) == {}


def test_a_tank_without_entries_says_nothing() -> None:
    assert factors_of(_record(), "Elm", START - timedelta(days=1)) == {}


def test_few_readings_say_nothing() -> None:
    bare = _record()
    entries = tuple(e for e in bare.entries if e.kind in ("plant_in", "feed", "top_up"))
    assert factors_of(replace(bare, entries=entries[:-4]), "Elm", AT - timedelta(days=30)) == {}


def test_the_unknown_is_the_mean_of_the_known() -> None:
    assert unknown_factor({}) == 0.0
    logs = {"a": Factor(np.log(3.0), None), "b": Factor(np.log(1.0), None)}
    assert unknown_factor(logs) == pytest.approx(np.log(2.0))


def test_no_factor_is_believed_beyond_reason() -> None:
    found = factors_of(_noted("osmotic_step", 0.5), "Elm", AT, members=80)
    assert all(abs(f.log) <= MOST for f in found.values())
