"""Signs of a record made by hand: sightings again and again, peaks between readings, old covers."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from pleuston.inference.cause_signs import AGAIN, MISSED, MOST, SURE, Sign, signs_of
from pleuston.inference.causes import weight_of
from pleuston.records.record import Entry, Rack, Record, Tank

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
WEEKS = 14
AT = START + timedelta(weeks=WEEKS)


def entry(
    day: float, kind: str, what: str, low: float | None, high: float | None, unit: str = ""
) -> Entry:
    at = START + timedelta(days=day)
    return Entry(f"{kind}-{what}-{day}", at, "Elm", kind, what, low, high, unit)


def signs(*entries: Entry) -> dict[str, Sign]:
    record = Record(
        Rack(name="Shelf", timezone="Etc/UTC"), tanks=(Tank("Elm", 30.0, 0.1),),
        entries=tuple(sorted(entries, key=lambda e: e.at)),
    )  # fmt: skip
    return signs_of(record, "Elm", AT)


def seen(what: str, *weeks_ago: float) -> list[Entry]:
    return [entry(7.0 * (WEEKS - w), "seen", what, 1.0, 1.0) for w in weeks_ago]


@pytest.mark.parametrize(("times", "weight"), [(1, 1.0), (2, 1.0 + AGAIN), (5, MOST), (6, MOST)])
def test_what_is_seen_again_and_again_weighs_more(times: int, weight: float) -> None:
    sign = signs(*seen("melt", *(0.5 + k for k in range(times))))["melt"]
    assert (sign.there, sign.weight) == (SURE, pytest.approx(weight))
    once = weight_of(("plant_dieback",), "melt", Sign(SURE, ""))
    assert weight_of(("plant_dieback",), "melt", sign) == pytest.approx(weight * once)


def test_a_weak_sign_weighs_more_only_beyond_the_times_it_needs() -> None:
    assert signs(*seen("film", 1, 2))["film"].there < 0.5
    assert signs(*seen("film", 1, 2, 3))["film"].weight == 1.0
    assert signs(*seen("film", 1, 2, 3, 4))["film"].weight == pytest.approx(1.0 + AGAIN)


@pytest.mark.parametrize("readings", [1, 2, 3, 5])
def test_a_peak_may_fall_between_few_readings(readings: int) -> None:
    low = [entry(7.0 * (WEEKS - k - 0.5), "reading", "ammonium_ion", None, 0.12, "mg/L")
           for k in range(readings)]  # fmt: skip
    found = signs(*low)
    expected = pytest.approx(MISSED.get(readings, 1.0 - SURE), abs=1e-3)
    assert found["ammonia"].there == expected
    assert found["ammonia_high"].there == expected
    high = entry(7.0 * WEEKS - 1.0, "reading", "ammonium_ion", 1.5, 3.0, "mg/L")
    assert signs(*low, high)["ammonia"].there == pytest.approx(SURE, abs=1e-3)


def test_few_readings_speak_less_against_a_cause_and_never_for_it() -> None:
    weights = [
        weight_of(("soil_release",), "ammonia", Sign(MISSED.get(n, 1.0 - SURE), ""))
        for n in (1, 2, 3)
    ]
    assert weights[2] < weights[1] < weights[0] < 0.0


@pytest.mark.parametrize(("weeks_ago", "there"), [(1.0, True), (5.0, True), (9.0, False)])
def test_a_mat_left_alone_is_known_by_the_last_cover_of_six_weeks(
    weeks_ago: float, there: bool
) -> None:
    taken = [entry(7.0 * k, "harvest", "Lemna minor", 8.0, 8.0, "g") for k in range(1, 9)]
    closed = entry(7.0 * (WEEKS - weeks_ago), "reading", "cover", 90.0, 100.0, "%")
    began = entry(0.0, "plant_in", "Lemna minor", 20.0, 20.0, "g")
    found = signs(began, *taken, closed)["not_thinned"]
    assert (found.there > 0.9) == there


def hardness(what: str, weeks_ago: float, drops: int) -> Entry:
    return entry(7.0 * (WEEKS - weeks_ago), "reading", what, drops - 1.0, float(drops), "dH")


@pytest.mark.parametrize(
    ("carbonate", "total", "told"), [(10, 5, 0.95), (5, 10, 0.0), (6, 6, 0.0), (4, 3, 0.8)]
)
def test_more_carbonate_than_total_hardness_tells_of_sodium(
    carbonate: int, total: int, told: float
) -> None:
    """Calcium and magnesium carry all of the bicarbonate, unless sodium or potassium does."""
    found = signs(hardness("kh", 1, carbonate), hardness("gh", 2, total))["carbonate_above_total"]
    assert found.there > told if told else found.there < 0.05
    weight = weight_of(("softened_water",), "carbonate_above_total", found)
    assert (weight > 1.0) if told else (weight < 0.0)


def test_one_hardness_alone_tells_nothing_of_sodium() -> None:
    for entries in ([hardness("kh", 1, 9)], [hardness("gh", 1, 3), hardness("kh", 12, 9)]):
        assert "carbonate_above_total" not in signs(*entries)


@pytest.mark.parametrize(("weeks", "there"), [(1.0, True), (8.0, True), (11.0, False)])
def test_a_store_that_was_low_still_tells_when_nothing_was_read_since(
    weeks: float, there: bool
) -> None:
    low = entry(7.0 * (WEEKS - weeks), "reading", "phosphate_ion", None, 0.12, "mg/L")
    found = signs(low)
    assert ("phosphate_none" in found) is there
    assert not there or found["phosphate_none"].there > 0.95
    high = entry(7.0 * (WEEKS - weeks), "reading", "ammonium_ion", 1.5, 3.0, "mg/L")
    assert ("ammonia" in signs(high)) is (weeks < 6.0), "a peak is over"
