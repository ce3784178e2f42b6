"""Readings become intervals on the right scale, with the right width of error."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pleuston.base import references
from pleuston.base.errors import InputError, UnknownNameError
from pleuston.inference.readings import (
    IntervalData,
    ReadingInterval,
    chart_interval,
    drops_interval,
    observation_model,
    observation_models,
)
from pleuston.records.kinds import READINGS
from pleuston.records.readings import Interval

FORCINGS = {"room_temperature", "room_humidity", "light"}


def test_every_reading_of_a_tank_has_a_model_in_its_unit() -> None:
    tank = {r.quantity: r.canonical for r in READINGS.values() if r.quantity not in FORCINGS}
    models = observation_models()
    assert {name: models[name].unit for name in tank} == tank
    assert set(models) - set(tank) == {"harvest"}


@pytest.mark.parametrize("name", sorted(observation_models()))
def test_models_are_complete_and_plausible(name: str) -> None:
    model = observation_model(name)
    assert model.least < model.most
    assert model.span > 0.0
    assert model.discrepancy > 0.0
    assert model.offset > 0.0 or model.transform == "linear"
    for method in model.methods.values():
        assert method.noise > 0.0
        # what animals tell may have another cause; what a kit shows seldom has
        assert 0.0 < method.lapse <= (0.5 if method.name in ("deaths", "alive") else 0.05)
        assert 0.0 <= method.kit < method.noise
        assert method.classes >= 1
        assert method.source
        assert method.where
        assert method.grade in {"read", "abstract", "derived", "memory", "guess"}


@pytest.mark.parametrize("name", sorted(observation_models()))
def test_scales_rise_with_the_value_and_stay_finite(name: str) -> None:
    model = observation_model(name)
    scaled = model.scaled(np.linspace(model.least, model.most, 200))
    assert np.isfinite(scaled).all()
    assert (np.diff(scaled) > 0.0).all()


def test_colour_steps() -> None:
    steps = (0.0, 0.25, 0.5, 1.0)
    assert chart_interval(steps, 0) == (None, 0.125)
    assert chart_interval(steps, 2) == (0.375, 0.75)
    assert chart_interval(steps, 3) == (0.75, None)


def test_drops_are_rounded_up() -> None:
    assert drops_interval(6, 0.5) == (2.5, 3.0)
    assert drops_interval(1, 1.0) == (None, 1.0)


def one(quantity: str, low: float | None, high: float | None, method: str = "") -> IntervalData:
    return IntervalData.of([ReadingInterval(quantity, low, high, 3.0, method)])


def test_below_the_first_step_is_open_below() -> None:
    for low in (None, 0.0):
        data = one("nitrate", low, 0.56)
        assert data.low[0] == -np.inf
        assert data.high[0] == pytest.approx(np.log(0.56 + 0.5))
        assert not data.exact[0]


def test_above_the_last_step_is_open_above() -> None:
    data = one("ammonium", 3.0, None)
    assert data.high[0] == np.inf
    assert one("cover", 0.9, 1.0).high[0] == np.inf


def test_an_exact_reading_is_normal_around_the_quantity() -> None:
    data = one("temperature", 297.0, 297.0)
    sd = np.hypot(0.5, 0.72)
    assert data.exact[0]
    assert data.sd[0] == pytest.approx(sd)
    got = data.log_chances(data.scaled([[296.0]]))[0, 0]
    right = stats.norm(296.0, sd).pdf(297.0)
    assert np.exp(got) == pytest.approx(0.99 * right + 0.01 / 62.0)


def test_an_exact_zero_is_a_reading() -> None:
    assert one("nitrite", 0.0, 0.0).low[0] == pytest.approx(np.log(0.02))


def test_a_class_has_the_chance_of_its_interval() -> None:
    data = one("nitrate", 1.0, 2.0)
    sd = np.hypot(0.29, 0.3)
    law = stats.norm(np.log(1.5 + 0.5), sd)
    right = law.cdf(np.log(2.5)) - law.cdf(np.log(1.5))
    got = np.exp(data.log_chances(data.scaled([[1.5]]))[0, 0])
    assert got == pytest.approx(0.97 * right + 0.03 / 7.0)


def test_a_wrong_display_shows_any_digit_of_its_range() -> None:
    """The last digit of a pen, 300 to 304 uS/cm of 0 to 5000: ln(309/305) of ln(5005/5)."""
    data = one("ec25", 300.0, 304.0)
    assert data.misread[0] == pytest.approx(np.log(309.0 / 305.0) / np.log(5005.0 / 5.0))
    assert one("ec25", 300.0, 300.0).misread[0] == pytest.approx(1.0 / np.log(5005.0 / 5.0))
    assert one("nitrate", 1.0, 2.0).misread[0] == pytest.approx(1.0 / 7.0)
    assert one("ec25", 4000.0, 6000.0).misread[0] == 0.5  # open above: no width to speak of


def test_a_titration_is_out_by_a_share_of_the_hardness() -> None:
    soft, hard = one("kh", 1.0, 1.4), one("kh", 7.0, 7.4)
    assert soft.sd[0] == hard.sd[0] == pytest.approx(np.sqrt(0.07**2 + 0.18**2))
    assert soft.high[0] - soft.low[0] > 4.0 * (hard.high[0] - hard.low[0])


def test_a_named_method_is_used() -> None:
    assert one("cover", 0.5, 0.5, "photo").sd[0] < one("cover", 0.5, 0.5).sd[0]
    assert one("kh", 3.0, 4.0, "test strip, chart").sd[0] > one("kh", 3.0, 4.0).sd[0]


def test_predictions_are_scaled_column_by_column() -> None:
    data = IntervalData.of(
        [
            ReadingInterval("nitrate", 1.0, 2.0, 0.0),
            ReadingInterval("temperature", 297.0, 297.0, 0.0),
            ReadingInterval("cover", 0.4, 0.6, 0.0),
            ReadingInterval("ammonium", None, 0.2, 1.0),
        ]
    )
    scaled = data.scaled([[1.5, 296.0, 0.5, 0.0], [0.0, 300.0, 1.0, 0.95]])
    share = np.log(1.02 / 0.02)
    expected = [[np.log(2.0), 296.0, 0.0, np.log(0.05)], [np.log(0.5), 300.0, share, 0.0]]
    np.testing.assert_allclose(scaled, expected, atol=1e-12)
    np.testing.assert_array_equal(data.times, [0.0, 0.0, 0.0, 1.0])


def test_failed_predictions_stay_visible() -> None:
    data = one("nitrate", 1.0, 2.0)
    assert np.isnan(data.scaled([[np.nan]])).all()


def test_infinite_ends_are_open() -> None:
    below = ReadingInterval.of(Interval("nitrate", -np.inf, 1.1, "mg/L"), 2.0)
    assert below == ReadingInterval("nitrate", None, 1.1, 2.0)
    above = ReadingInterval.of(Interval("nitrate", 30.0, np.inf, "mg/L"), 2.0, "chart")
    assert above == ReadingInterval("nitrate", 30.0, None, 2.0, "chart")


def test_unknown_quantities_are_refused_with_a_near_name() -> None:
    with pytest.raises(UnknownNameError, match="nitrate"):
        one("nitrat", 1.0, 2.0)


@pytest.mark.parametrize(("low", "high"), [(2.0, 1.0), (np.nan, 1.0), (np.inf, np.inf)])
def test_impossible_bounds_are_refused(low: float, high: float) -> None:
    with pytest.raises(InputError, match="reading of ph on day 3"):
        one("ph", low, high)


def test_every_source_is_in_the_bibliography() -> None:
    known = {"common_practice", *references.load()}
    methods = [m for model in observation_models().values() for m in model.methods.values()]
    assert {method.source for method in methods} <= known


def test_a_reading_of_an_expired_kit_counts_for_less() -> None:
    fresh, worn = (
        IntervalData.of([ReadingInterval("nitrate", 2.0, 4.0, 7.0, method)])
        for method in ("chart", "own chart (chart), expired")
    )
    assert worn.sd[0] > fresh.sd[0]
    assert worn.lapse[0] == pytest.approx(4.0 * fresh.lapse[0])
    far = np.array([[np.log(40.0)]])
    assert worn.log_chances(far)[0, 0] > fresh.log_chances(far)[0, 0]
    assert worn.log_chances(np.array([[1.1]]))[0, 0] < fresh.log_chances(np.array([[1.1]]))[0, 0]
