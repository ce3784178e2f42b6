"""Decisions on animals, each against a sum by hand: ammonia, oxygen at dawn, heat, numbers, tests.

The sums stand in the docstrings; pK by emerson1975, saturation of oxygen by benson1984.
"""

from __future__ import annotations

import numpy as np
import pytest

from pleuston.chemistry.ammonia import ammonia_fraction
from pleuston.chemistry.oxygen import oxygen_at_saturation
from pleuston.inference.night import Coming, Night, NightFit, fit_night
from pleuston.planning import value
from pleuston.planning.gauges import Gauge, chances_of_steps
from pleuston.planning.plan import plan_from
from pleuston.planning.start_up import first_proof
from pleuston.planning.stocking import FOOD_SHARE, fit_by_nitrogen, mass_of
from pleuston.planning.value import Decision
from pleuston.planning.whatif import tried
from pleuston.records.library import library

from .rack import belief

WARM, ONE_ATM = 297.15, 1.0

# -- D7 ammonia -----------------------------------------------------------------------

TABLE = {
    # degC: pH -> (% of total ammonia that is NH3, total mg/L of N at 0.02 mg/L of NH3-N)
    18: {6.5: (0.11, 18.5), 7.0: (0.34, 5.9), 7.5: (1.07, 1.87), 8.0: (3.3, 0.61),
         8.5: (9.7, 0.21)},
    24: {6.5: (0.17, 12.0), 7.0: (0.53, 3.8), 7.5: (1.64, 1.22), 8.0: (5.0, 0.40),
         8.5: (14.3, 0.14)},
    28: {6.5: (0.22, 9.1), 7.0: (0.70, 2.9), 7.5: (2.2, 0.92), 8.0: (6.5, 0.31), 8.5: (18.1, 0.11)},
}  # fmt: skip
"""1/(1 + 10^(pK - pH)) with pK = 0.0902 + 2729.92/T, worked out apart (emerson1975)."""


@pytest.mark.parametrize("celsius", TABLE)
def test_d7_the_table_of_free_ammonia(celsius: int) -> None:
    for ph, (percent, total) in TABLE[celsius].items():
        share = float(ammonia_fraction(ph, celsius + 273.15, 0.0))
        assert 100.0 * share == pytest.approx(percent, rel=0.05)
        assert 0.02 / share == pytest.approx(total, rel=0.05)


def test_d7_one_reading_is_a_band_of_seven() -> None:
    """Chart step 0.25 (0.125 to 0.375), pH 7.4 to 7.8, 24 degC: 0.0016 to 0.012 mg/L."""
    low = 0.125 * float(ammonia_fraction(7.4, WARM, 0.0))
    high = 0.375 * float(ammonia_fraction(7.8, WARM, 0.0))
    assert low == pytest.approx(0.0016, abs=0.0001)
    assert high == pytest.approx(0.012, abs=0.0005)
    assert high / low == pytest.approx(7.0, abs=0.6)


# -- D13 tonight's oxygen, D21 heat ---------------------------------------------------


def closed(hours: np.ndarray, start: float, k: float, use: float, full: float) -> np.ndarray:
    """C(t) = Ceq + (C0 - Ceq) e^(-kt), Ceq = Cs - R/k; k per hour, R in mg/L an hour."""
    level = full - use / k
    return np.asarray(level + (start - level) * np.exp(-k * hours))


def test_d13_a_night_follows_the_closed_form_and_gives_its_rates_back() -> None:
    """k 0.15 per hour, 0.6 mg/L breathed an hour, from 8 mg/L: Ceq = 8.4 - 4 = 4.4 mg/L.

    After ten hours 4.4 + 3.6 e^-1.5 = 5.2 mg/L.
    """
    hours = np.linspace(0.0, 10.0, 41)
    full = float(oxygen_at_saturation(WARM, ONE_ATM))
    assert full == pytest.approx(8.4, abs=0.03)
    seen = closed(hours, 8.0, 0.15, 0.6, full)
    assert seen[-1] == pytest.approx(5.2, abs=0.03)
    same = np.full(len(hours), 1.0)
    night = Night(hours / 24.0, seen, WARM * same, ONE_ATM * same)
    assert night.curve(0.15 * 24.0, 8.0, 0.6 * 24.0) == pytest.approx(seen, abs=0.01)
    fit = fit_night(night)
    assert np.median(fit.use / 24.0) == pytest.approx(0.6, rel=0.1)
    assert np.median(fit.k / 24.0) == pytest.approx(0.15, rel=0.1)


def known_night() -> NightFit:
    """A night whose exchange and breathing are known: one draw of each, many times."""
    hours = np.linspace(0.0, 10.0, 41)
    full = float(oxygen_at_saturation(WARM, ONE_ATM))
    same = np.full(len(hours), 1.0)
    seen = closed(hours, 8.0, 0.15, 0.6, full)
    return fit_night(Night(hours / 24.0, seen, WARM * same, ONE_ATM * same))


def test_d21_warm_water_holds_less_and_all_breathe_faster() -> None:
    """8.4 mg/L at 24, 7.3 at 32 degC (benson1984); a Q10 of 2 makes 2^0.8 = 1.74 of breathing."""
    assert float(oxygen_at_saturation(305.15, ONE_ATM)) == pytest.approx(7.3, abs=0.03)
    coming = Coming([known_night()], 0.95, 10.0, ONE_ATM)
    assert np.median(coming.draws[4]) ** 0.8 == pytest.approx(1.74, abs=0.15)


def test_d21_how_hot_before_oxygen_fails_is_where_the_closed_form_says() -> None:
    """Scan the warmth: k rises by 2.4 % a degree, breathing by its Q10; the first below 4 mg/L."""
    coming = Coming([known_night()], 0.95, 10.0, ONE_ATM)
    rise = float(np.median(coming.draws[4]))
    hot = None
    for tenth in range(2900, 3200):
        kelvin = tenth / 10.0
        full = float(oxygen_at_saturation(kelvin, ONE_ATM))
        k = 0.15 * 1.024 ** (kelvin - WARM)
        use = 0.6 * rise ** ((kelvin - WARM) / 10.0)
        if closed(np.array([10.0]), 0.95 * full, k, use, full)[0] < 4.0:
            hot = kelvin
            break
    assert hot is not None
    told = coming.too_warm(4.0, 290.0, 320.0)
    assert np.median(told[np.isfinite(told)]) == pytest.approx(hot, abs=1.0)


def test_d21_a_heat_wave_lowers_the_tank_s_own_dawn_oxygen() -> None:
    made = belief(flow="gentle", heater_c=None)
    plans = ("c:heat=0", "h:heat=8,heat_days=7")
    calm, hot = (tried(made, plan_from(text), 7, 24).ahead for text in plans)
    warmer = hot.values("temperature")[6] - calm.values("temperature")[6]
    assert np.median(warmer) > 3.0
    assert np.median(hot.values("oxygen_dawn")[6] - calm.values("oxygen_dawn")[6]) < -0.3


# -- D6 numbers, D17 first animals ----------------------------------------------------


def test_d6_animals_are_counted_by_mass_never_by_length() -> None:
    """Ten fish of an inch and one of ten: mass goes with the cube, 1 : 100.

    20 mg/d of nitrogen taken out, 5 fed already, food 72 mg/g at 1 % of the mass a day: 0.25 g
    fish give 0.18 mg each, so 83 fit; of 25 g, hundred times as heavy, not one.
    """
    each = 72.0 * FOOD_SHARE
    small, large = 0.25 * each, 25.0 * each
    assert fit_by_nitrogen(20.0, 5.0, small) == pytest.approx(15.0 / small)
    assert fit_by_nitrogen(20.0, 5.0, small) / fit_by_nitrogen(20.0, 5.0, large) == pytest.approx(
        100.0
    )
    assert fit_by_nitrogen(4.0, 5.0, small) == 0.0
    guppy, cory = (library().find_species(n) for n in ("Poecilia reticulata", "Corydoras paleatus"))
    assert mass_of(cory) / mass_of(guppy) > 3.0


def test_d17_the_first_animals_wait_for_two_whole_weeks() -> None:
    """Days 1 to 20, above the step on day 5: the fourteenth day below since then is day 19."""
    below = np.ones((20, 2), dtype=bool)
    below[4, 0] = False
    below[:, 1] = False
    first = first_proof(below, 14)
    assert first[0] == 19.0
    assert np.isnan(first[1])


# -- D25 what to test -----------------------------------------------------------------

STEP = Gauge("nitrate", (5.0,), 1e-6, 0.0, 3.0, 0.3)
"""A kit of one step that never errs."""


def test_d25_a_test_that_never_errs_is_worth_the_perfect_information() -> None:
    """Three of ten members lose 30 if nothing is done; a change costs 7 in any case.

    Nothing 9, change 7: change, 7. Knowing: 0.3 x 7 = 2.1. Worth 4.9 a week.
    """
    high = np.array([True] * 3 + [False] * 7)
    decision = Decision(("nothing", "change"), np.array([30.0 * high, np.full(10, 7.0)]),
                        np.arange(10))  # fmt: skip
    shows = chances_of_steps(np.where(high, 20.0, 1.0), STEP)
    assert shows[1] == pytest.approx(high.astype(float))
    assert decision.best == 1
    assert decision.value(shows) == pytest.approx(4.9)
    assert [(i, then) for i, _, then in decision.turns(shows)] == [(0, "nothing")]


def test_d25_a_test_that_errs_is_worth_less_by_bayes() -> None:
    """Right in eight of ten. Shows high: 0.24 of 0.38 are: change. Shows low: 0.06 of 0.62 are.

    Low then costs 0.06 x 30 = 1.8, high 0.38 x 7 = 2.66: 4.46, worth 7 - 4.46 = 2.54.
    """
    high = np.array([True] * 3 + [False] * 7)
    decision = Decision(("nothing", "change"), np.array([30.0 * high, np.full(10, 7.0)]),
                        np.arange(10))  # fmt: skip
    right = np.where(high, 0.8, 0.2)
    assert decision.value(np.array([1.0 - right, right])) == pytest.approx(2.54)


def test_d25_what_changes_nothing_is_worth_nothing() -> None:
    """However unsure a quantity is: where one way is best for every reading, leave the kit."""
    costs = np.array([np.full(10, 1.0), np.linspace(2.0, 9.0, 10)])
    decision = Decision(("nothing", "change"), costs, np.arange(10))
    assert decision.value(chances_of_steps(np.linspace(0.0, 40.0, 10), STEP)) == 0.0


def test_d25_the_rack_s_minutes_go_to_what_is_worth_most_for_them() -> None:
    """Nine minutes, three each: the three of four that save most; a tank gets two at most."""
    def one(tank: str, what: str, worth: float, last: float | None = None) -> dict[str, object]:
        return {"tank": tank, "what": what, "value": worth, "minutes": 3.0, "coins": 0.3,
                "last_days": last}  # fmt: skip

    found = [one("A", "nitrite", 5.0), one("A", "ammonium", 4.0), one("A", "copper", 3.0),
             one("B", "kh", 1.0, 20.0), one("C", "kh", 1.0), one("D", "gh", 0.01)]  # fmt: skip
    chosen = value.chosen_tests(found, 9.0)
    assert [(t["tank"], t["what"]) for t in chosen] == [
        ("A", "nitrite"), ("A", "ammonium"), ("C", "kh")]  # fmt: skip
    assert value.chosen_tests(found, 2.0) == []


@pytest.mark.parametrize(("saves", "pays"), [(2.9, False), (3.1, True)])
def test_d25_a_test_pays_by_what_it_saves_until_it_is_read_again(saves: float, pays: bool) -> None:
    """Three minutes and 0.3 coins of ten minutes cost 6; two weeks at 3 minutes a week save 6."""
    worth = value.Worth("Fern", STEP, saves, "as now", (), np.inf)
    assert STEP.price == pytest.approx(6.0)
    assert worth.pays is pays
    assert worth.per_price == pytest.approx(saves / 6.0)
