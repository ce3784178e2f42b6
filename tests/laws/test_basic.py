"""The model on one page gives the rates and coefficients of the kernel."""

from __future__ import annotations

import pytest

from pleuston.engine.kernel import tank_kernel
from pleuston.model import basic

from . import laws
from .evaluate import World, column, tank, world

OTHERS = ("floater2_carbon", "floater3_carbon", "snails_body")
STATES = sorted({s for change in basic.CHANGES.values() for s in change})
CALM = [world(seed).but(**dict.fromkeys(OTHERS, 0.0)) for seed in range(400, 424)]


def whole(name: str) -> str:
    """The name of the kernel: this page's floating plant is the first of three."""
    return name.replace("floater", "floater1")


def short(name: str) -> str:
    return name.replace("floater1", "floater")


def page_of(at: World) -> dict[str, float]:
    """The rates of the page in a tank of the whole model."""
    y = {s: at[whole(s)] for s in STATES}
    p = {short(n): at[n] for n in tank().parameters}
    quota, low, high = (at[f"floater1_potassium_{k}"] for k in ("quota", "min", "max"))
    potassium = min(max((1.0 - low / quota) * high / (high - low), 0.0), 1.0)
    iron = at["iron_concentration"] / (at["floater1_iron_half"] + at["iron_concentration"])
    given = {
        "temperature": at["temperature"], "ph": at["ph"], "light": at["light"],
        "oxygen_at_saturation": at["oxygen_at_saturation"],
        "oxygen_transfer": at["oxygen_transfer"], "evaporation": at["evaporation"],
        "ammonia": at["ammonia_concentration"], "carbon": at["carbon_inorganic_concentration"],
        "vigour": at["floater1_vigour"], "minerals": at["tissue_minerals"],
        "other_nutrients": min(potassium, iron),
    }  # fmt: skip
    return (
        basic.air_rates(y, p, given)
        | basic.bacteria_rates(y, p, given)
        | basic.floater_rates(y, p, given)
    )


def test_kernel_equals_the_page() -> None:
    names = [r.name for r in tank().rows]
    growing = 0
    for at in CALM:
        page = page_of(at)
        assert set(page) == set(basic.CHANGES)
        y, p = column(tank().states, [at]), column(tank().parameters, [at])
        rates, _ = tank_kernel().rates(y, p, column(tank().forcings, [at])[0])
        for row, rate in page.items():
            kernel = rates[0, names.index(whole(row))]
            assert kernel == pytest.approx(rate, rel=1e-9, abs=1e-250), row
        growing += page["photosynthesise_floater"] > 0.0
    assert growing >= 3


@pytest.mark.parametrize("row", sorted(basic.CHANGES))
def test_coefficients_equal_the_page(row: str) -> None:
    declared = laws.named(whole(row)).coefficients
    own = {whole(s): a for s, a in basic.CHANGES[row].items()}
    left_out = {"alkalinity", "carbon_inorganic", "calcium", "magnesium", "sulfate",
                "detritus_carbon"}  # fmt: skip
    assert set(declared) - set(own) <= left_out
    for state, amount in own.items():
        assert float(declared[state]) == pytest.approx(amount, rel=1e-12), state


def test_a_step_moves_nitrogen_from_store_to_store() -> None:
    at = CALM[0]
    y = {s: at[whole(s)] for s in STATES}
    p = {short(n): at[n] for n in tank().parameters}
    given = dict.fromkeys(
        ("ph", "light", "oxygen_at_saturation", "oxygen_transfer", "evaporation", "ammonia",
         "carbon", "vigour", "minerals", "other_nutrients"), 1.0,
    ) | {"temperature": 296.0, "ph": 7.2}  # fmt: skip
    later = basic.after_step(y, p, given, 0.01)
    body = 14.007 / (5 * 12.011)
    nitrogen = {"ammonium": 1.0, "nitrite": 1.0, "nitrate": 1.0, "detritus_nitrogen": 1.0,
                "dom_nitrogen": 1.0, "floater_nitrogen": 1.0, "ammonia_oxidisers": body,
                "nitrite_oxidisers": body}  # fmt: skip
    before, after = (sum(v[s] * n for s, n in nitrogen.items()) for v in (y, later))
    assert after == pytest.approx(before, rel=1e-13)
    assert later["water"] < y["water"]
