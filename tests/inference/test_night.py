"""A night's exchange and respiration: closed forms, noise, what can't be told, the next night."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from pleuston.base.errors import InputError
from pleuston.chemistry.gas_exchange import transfer_warming
from pleuston.chemistry.oxygen import oxygen_at_saturation
from pleuston.inference.night import Coming, Night, NightFit, dark_by_curve, fit_night

Array = NDArray[np.float64]
WARM = 297.15


def times(hours: float = 10.0, minutes: float = 5.0) -> Array:
    return np.arange(0.0, hours * 60.0 + 1.0, minutes) / 1440.0


def night(days: Array, oxygen: Array, kelvin: float = WARM) -> Night:
    return Night(days, oxygen, np.full(len(days), kelvin), np.ones(len(days)))


def closed(days: Array, k: float, use: float, start: float, kelvin: float = WARM) -> Array:
    level = float(oxygen_at_saturation(kelvin, 1.0)) - use / k
    return np.asarray(level + (start - level) * np.exp(-k * days))


def noise(rng: np.random.Generator, n: int, sd: float, keep: float) -> Array:
    found = np.empty(n)
    found[0] = rng.normal(0.0, sd)
    for i in range(1, n):
        found[i] = keep * found[i - 1] + rng.normal(0.0, sd * np.sqrt(1.0 - keep**2))
    return found


def holds(fit: NightFit, values: Array, truth: float) -> bool:
    _, low, high = fit.range(values)
    return low <= truth <= high


@pytest.mark.parametrize(("k", "use", "start"), [(8.0, 12.0, 8.0), (2.0, 6.0, 9.0), (40.0, 30, 4)])
def test_curve_is_the_closed_form_at_steady_temperature(k: float, use: float, start: float) -> None:
    days = times()
    made = night(days, closed(days, k, use, start)).curve(k, start, use)
    assert made == pytest.approx(closed(days, k, use, start), abs=1e-9)


def test_curve_follows_a_warming_night_as_fine_steps_do() -> None:
    days = times(8.0, 10.0)
    kelvin = 295.15 + 4.0 * days / days[-1]
    made = Night(days, np.ones(len(days)), kelvin, np.ones(len(days))).curve(10.0, 8.0, 15.0)
    fine = np.linspace(0.0, days[-1], 200_001)
    warm = np.interp(fine, days, kelvin)
    k = 10.0 * np.asarray(transfer_warming(warm)) / float(transfer_warming(float(kelvin.mean())))
    full = np.asarray(oxygen_at_saturation(warm, 1.0))
    level, step = 8.0, fine[1]
    for n in range(len(fine) - 1):
        level += step * (k[n] * (full[n] - level) - 15.0)
    assert made[-1] == pytest.approx(level, abs=2e-3)


def test_a_clean_night_gives_its_exchange_and_respiration_back() -> None:
    days = times()
    fit = fit_night(night(days, np.round(closed(days, 9.0, 14.0, 8.5), 2)))
    assert fit.tells_apart
    assert fit.range(fit.k)[0] == pytest.approx(9.0, rel=0.05)
    assert fit.range(fit.use)[0] == pytest.approx(14.0, rel=0.05)
    assert fit.range(fit.deficit)[0] == pytest.approx(14.0 / 9.0, rel=0.03)
    assert fit.middle == pytest.approx(closed(days, 9.0, 14.0, 8.5), abs=0.02)


def test_a_straight_short_fall_is_not_told_apart_but_its_net_loss_is() -> None:
    rng = np.random.default_rng(4)
    days = times(3.0)
    seen = closed(days, 1.5, 12.0, 7.0) + noise(rng, len(days), 0.04, 0.5)
    fit = fit_night(night(days, seen))
    assert not fit.tells_apart
    _, low, high = fit.range(fit.k)
    assert high / low > 4.0
    truth = 12.0 - 1.5 * float(fit.shortfall[0])
    assert holds(fit, fit.fall, truth)
    _, least, most = fit.range(fit.fall)
    _, use_low, use_high = fit.range(fit.use)
    assert most - least < 0.4 * (use_high - use_low)


def test_oxygen_made_in_the_dark_is_refused() -> None:
    days = times(6.0)
    rising = 8.3 + 40.0 * days
    with pytest.raises(InputError, match="oxygen is made"):
        fit_night(night(days, rising))


def test_few_readings_are_refused() -> None:
    with pytest.raises(InputError, match="5 readings"):
        night(times(0.4), closed(times(0.4), 5.0, 5.0, 8.0))


@pytest.mark.slow
@pytest.mark.parametrize("keep", [0.0, 0.8])
def test_intervals_hold_the_truth_as_often_as_they_say(keep: float) -> None:
    rng = np.random.default_rng(11)
    days, hits = times(9.0, 10.0), np.zeros(3)
    for run in range(80):
        k, use = float(np.exp(rng.normal(np.log(7.0), 0.5))), float(rng.uniform(5.0, 20.0))
        seen = closed(days, k, use, 8.0) + noise(rng, len(days), 0.04, keep)
        fit = fit_night(night(days, seen), seed=run, draws=1500)
        hits += [holds(fit, fit.k, k), holds(fit, fit.use, use), holds(fit, fit.deficit, use / k)]
    assert (hits / 80.0 >= 0.86).all(), hits / 80.0


def test_the_night_to_come_at_the_same_warmth_ends_where_the_closed_form_does() -> None:
    days = times()
    fit = fit_night(night(days, np.round(closed(days, 9.0, 14.0, 8.0), 2)))
    full = float(oxygen_at_saturation(WARM, 1.0))
    coming = Coming([fit], 8.0 / full, 10.0, 1.0)
    least = coming.least(WARM)
    assert np.median(least) == pytest.approx(closed(times(), 9.0, 14.0, 8.0)[-1], abs=0.03)
    warmer = coming.least(WARM + 5.0)
    assert np.median(warmer) < np.median(least)
    assert warmer.std() > least.std()


def test_the_temperature_that_is_too_warm_lies_where_the_lowest_crosses_the_limit() -> None:
    days = times()
    fit = fit_night(night(days, np.round(closed(days, 6.0, 20.0, 7.5), 2)))
    coming = Coming([fit], 0.9, 10.0, 1.0)
    warm = float(np.median(coming.too_warm(4.0, 285.15, 313.15)))
    assert np.median(coming.least(warm - 1.0)) > 4.0 > np.median(coming.least(warm + 1.0))
    assert np.isinf(coming.too_warm(0.1, 285.15, 290.15)).all()


def test_dark_spans_are_told_by_the_curve() -> None:
    days = np.arange(0.0, 2.0, 1.0 / 96.0)
    lit = (days % 1.0) < 0.5
    oxygen = np.where(lit, 6.0 + 4.0 * (days % 1.0), 8.0 - 4.0 * ((days % 1.0) - 0.5))
    spans = dark_by_curve(days, oxygen, lambda values: values)
    assert spans == [pytest.approx((0.5, 1.0), abs=0.03), pytest.approx((1.5, 2.0), abs=0.03)]
