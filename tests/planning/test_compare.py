"""Floaters compared fairly: hand calculations, and what must not be called a difference."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from pleuston.planning.compare import comparison, growths, interval, short_of, t_quantile
from pleuston.records.record import Entry, Rack, Record, Tank
from pleuston.services.compare import compare_floaters
from pleuston.services.demo import demo_record

START = datetime(2026, 3, 1, 10, tzinfo=UTC)
END = START + timedelta(days=200)
A, B = "Lemna minor", "Spirodela polyrhiza"


def entry(day: float, tank: str, kind: str, what: str, value: float, **more: str) -> Entry:
    unit = {"harvest": "g"}.get(kind, more.pop("unit", ""))
    return Entry(
        str(uuid.uuid4()), START + timedelta(days=day), tank, kind, what, value, value, unit,
        note=more.get("note", ""),
    )  # fmt: skip


def tank(name: str, hours: float = 9.0) -> Tank:
    return Tank(name, 50.0, 0.2, light_hours=hours, light_ppfd=80.0)


def nitrate(name: str, value: float) -> list[Entry]:
    return [entry(d, name, "reading", "nitrate_ion", value, unit="mg/L") for d in range(0, 60, 7)]


def rack(entries: list[Entry], *tanks: Tank) -> Record:
    return Record(Rack("hand"), tanks=tanks, entries=tuple(sorted(entries, key=lambda e: e.at)))


def weekly(name: str, species: str, grams: list[float]) -> list[Entry]:
    return [entry(7.0 * n, name, "harvest", species, g) for n, g in enumerate(grams)]


def test_growth_is_harvest_and_standing_change_by_covers() -> None:
    rows = weekly("T", A, [10.0, 12.0])
    rows += [entry(0.1, "T", "reading", "cover", 30.0), entry(7.1, "T", "reading", "cover", 40.0)]
    (found,) = growths(rack(rows, tank("T")), tank("T"), A, START, END)
    assert found.grams == pytest.approx(12.0 + 0.10 * 0.2 * 550.0)
    assert found.rate == pytest.approx((12.0 + 11.0) / 0.2)


def test_growth_is_what_was_held_less_what_was_put_back_where_weighed() -> None:
    rows = [
        entry(0, "T", "harvest", A, 4.0, note="ring held 10 g, 6 g put back"),
        entry(14, "T", "harvest", A, 12.0, note="ring held 17,5 g, 5.5 g put back"),
        entry(0, "T", "harvest", B, 4.0),
    ]
    (found,) = growths(rack(rows, tank("T")), tank("T"), A, START, END)
    assert found.grams == pytest.approx(11.5)
    assert found.rate == pytest.approx(11.5 / 0.1 / 2.0)
    assert found.relative == pytest.approx(np.log(17.5 / 6.0) / 14.0)


def test_interval_is_the_paired_t() -> None:
    found = interval(np.array([1.0, 3.0, 2.0, 4.0]))
    assert found is not None
    assert found["mean"] == 2.5
    half = 3.1824 * np.sqrt(5.0 / 3.0) / 2.0
    assert found["low"] == pytest.approx(2.5 - half, abs=1e-3)
    assert found["high"] == pytest.approx(2.5 + half, abs=1e-3)
    assert interval(np.array([1.0, 2.0, 3.0])) is None
    assert t_quantile(0.975, 7) == pytest.approx(2.3646, abs=1e-3)


def test_weeks_that_follow_each_other_alike_count_for_less() -> None:
    alike = interval(np.array([1.0, 1.0, 1.0, 1.0, 5.0, 5.0, 5.0, 5.0]))
    mixed = interval(np.array([1.0, 5.0, 1.0, 5.0, 5.0, 1.0, 5.0, 1.0]))
    assert alike is not None
    assert mixed is not None
    assert alike["high"] - alike["low"] > 1.5 * (mixed["high"] - mixed["low"])


def one_tank(level: float, gap: float) -> Record:
    rng = np.random.default_rng(3)
    b = 8.0 + rng.normal(0.0, 0.3, 9)
    a = b + gap + rng.normal(0.0, 0.2, 9)
    rows = weekly("T", A, list(a)) + weekly("T", B, list(b)) + nitrate("T", level)
    return rack(rows, tank("T"))


def test_a_clear_difference_in_a_fed_tank_is_shown_with_its_hand_value() -> None:
    found = comparison(one_tank(10.0, 2.0), A, B, ["T"], START, END)
    assert found["shown"]
    assert found["pairs"] == found["fed_pairs"] == 8
    assert found["difference"]["mean"] == pytest.approx(2.0 / 0.1, rel=0.1)
    assert found["difference"]["low"] > 0.0


def test_the_same_difference_is_not_shown_where_nutrients_may_be_short() -> None:
    found = comparison(one_tank(1.0, 2.0), A, B, ["T"], START, END)
    assert not found["shown"]
    assert found["difference"] is None
    assert found["difference_all"]["low"] > 0.0
    assert "starved" in found["verdict"]
    assert any("nutrients may have been short in 8 of 8" in c for c in found["confounders"])


def test_no_difference_is_shown_where_none_is() -> None:
    found = comparison(one_tank(10.0, 0.0), A, B, ["T"], START, END)
    assert not found["shown"]
    assert "holds 0" in found["verdict"]


def test_two_tanks_are_one_comparison_however_many_weeks() -> None:
    rows = weekly("S", A, [9.0] * 9) + weekly("T", B, [6.0] * 9)
    rows += nitrate("S", 10.0) + nitrate("T", 10.0)
    rows += [entry(3.0, "S", "reading", "temperature", 26.0)]
    rows += [entry(3.0, "T", "reading", "temperature", 22.0)]
    found = comparison(rack(rows, tank("S"), tank("T")), A, B, ["S", "T"], START, END)
    assert found["pairs"] == 8
    assert not found["shown"]
    assert "can't be told apart" in found["verdict"]
    assert any(c.startswith("temperature differs: S 26.0") for c in found["confounders"])


def test_tanks_under_unlike_lamps_are_not_paired() -> None:
    rows = weekly("S", A, [9.0] * 9) + weekly("T", B, [6.0] * 9)
    found = comparison(rack(rows, tank("S"), tank("T", 12.0)), A, B, ["S", "T"], START, END)
    assert found["pairs"] == 0
    assert "without a partner" in found["left_out"][0]


def test_shortage_is_told_by_the_last_reading() -> None:
    fed, poor = rack(nitrate("T", 10.0), tank("T")), rack(nitrate("T", 2.0), tank("T"))
    week = START + timedelta(days=14), START + timedelta(days=21)
    assert short_of(fed, "T", *week) == ""
    assert short_of(poor, "T", *week) == "nitrogen"
    assert short_of(rack([], tank("T")), "T", *week) == "nitrogen (not read)"


def test_the_demo_tank_with_three_floaters_gives_a_sane_answer() -> None:
    record = demo_record()
    found = compare_floaters(record, A, B, ("Hazel",))
    assert found["pairs"] == 17
    assert found["shown"]
    assert 0.0 < found["difference"]["low"] < 27.0 < found["difference"]["high"]
    assert any("harvested twice" in line for line in found["left_out"])
    back = compare_floaters(record, B, A, ("Hazel",))
    assert back["difference"]["mean"] == pytest.approx(-found["difference"]["mean"])
    assert not compare_floaters(record, A, "Salvinia natans", ("Hazel",))["shown"]
