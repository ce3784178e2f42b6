"""What keepers know without a source: an invented shrimp tank must behave so."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from tests.model_biology.vessel import Vessel, run

from pleuston.engine.ensemble import Trajectory
from pleuston.engine.kernel import tank_kernel
from pleuston.engine.schedule import Event

from .case import Case, Finding, one

FRESH = "floater1_fresh_mass"
MEDIUM = {
    "oxygen": 8.0, "calcium": 30.0, "magnesium": 6.0, "sodium": 15.0, "sulfate": 8.0,
    "potassium": 15.0, "ammonium": 0.05, "nitrate": 4.0, "phosphate": 0.5, "iron": 0.2,
}  # fmt: skip
ALIVE = {
    "fish_body": 100.0, "shrimp_body": 200.0, "snails_body": 100.0, "heterotrophs": 60.0,
    "ammonia_oxidisers": 8.0, "nitrite_oxidisers": 4.0,
}  # fmt: skip
MEAL = {
    "feed_carbon": 45.0, "feed_nitrogen": 7.0, "feed_phosphorus": 1.1, "feed_potassium": 0.8,
    "feed_iron": 0.02,
}  # fmt: skip
PURE: dict[str, float] = {}
HARD = {
    "calcium": 92.0, "magnesium": 11.0, "sodium": 25.5, "potassium": 3.0, "sulfate": 16.0,
    "chloride": 38.0, "nitrate": 3.2, "phosphate": 0.1, "carbon_inorganic": 52.8,
}  # fmt: skip
PRACTICE = "common practice: a rule of thumb, so a fifth of the whole either way"


def filled(day: float, water: Mapping[str, float]) -> Event:
    """Filling to the mark."""
    brought = {f"{name}_in": value for name, value in water.items()}
    return Event(day, "top_up", {"to_mark": 1.0, "litres": 0.0, "oxygen_in": 8.5,
                                 "temperature_in": 294.0} | brought)  # fmt: skip


def thinned(day: float, cover: float) -> Event:
    """A harvest to a cover."""
    return Event(day, "harvest_floater1", {"harvest_grams": 0.0, "harvest_cover": cover})


def tank(
    days: int, dry: float, *outputs: str, cover: float | None = None, every: float = 1.0,
    each: int = 7, water: Mapping[str, float] = PURE, meals: int = 1, extents: bool = False,
    medium: Mapping[str, float] | None = None, flow: float = 1.0, litres: float = 30.0,
    amounts: Mapping[str, float] | None = None,
) -> Trajectory:  # fmt: skip
    """An open, gently moved tank of 30 L and 0.12 m2, filled and thinned weekly.

    It is fed every so many days, then for all of them; 0 is never.
    """
    meal = {name: value * meals for name, value in MEAL.items()}
    events = [Event(d + 0.25, "feed", meal) for d in range(0, days, meals or days + 1) if meals]
    events += [filled(float(d), water) for d in range(7, days, 7)]
    if cover is not None:
        events += [thinned(d + 0.01, cover) for d in range(each, days, each)]
    v = Vessel(
        days=days, dry=dry, celsius=24.0, light=90.0, hours=10.0, area=0.12, litres=litres,
        medium=MEDIUM | dict(medium or {}), amounts=ALIVE | dict(amounts or {}),
        reserves={"nitrogen": 40.0, "phosphorus": 8.0, "potassium": 40.0},
        parameters={"feed_factor": 1.0, "wall_area": 0.35},
        forcings={
            "room_temperature": 295.15, "room_humidity": 0.5, "air_co2": 6e-4,
            "lid_openness": 1.0, "flow_level": flow, "heater_power": 50.0,
        },
        events=tuple(sorted(events, key=lambda e: e.time)),
    )  # fmt: skip
    return run(v, *outputs, every=every, extents=extents)


def extent(result: Trajectory, *names: str) -> np.ndarray:
    """Sum of what some rows and moves did, at every record."""
    assert result.extents is not None
    table = tank_kernel().table
    at = [
        table.at("row", n) if n in table.rows else len(table.rows) + table.at("move", n)
        for n in names
    ]
    return np.asarray(sum(result.extents[:, n, 0] for n in at))


def removal(cover: float) -> tuple[float, float]:
    """Nitrogen harvested in the last four of eight weeks [mg]: rich water, fed tank."""
    taken = []
    for rich in (True, False):
        result = tank(
            57, 0.12 * 3.0, cover=cover, every=28.5, extents=True, litres=3000.0 if rich else 30.0,
            medium={"nitrate": 10.0, "phosphate": 2.0} if rich else None, meals=0 if rich else 2,
        )  # fmt: skip
        out = extent(result, "harvest_floater1_nitrogen")
        taken.append(float(out[-1] - out[1]))
    return taken[0], taken[1]


def canopy() -> list[Finding]:
    """A canopy near a quarter of the surface beside the best one, thinned weekly."""
    found = np.array([removal(c) for c in (0.25, 0.6, 0.9)])
    rich, fed = 100.0 * found[0] / found.max(axis=0)
    return [
        Finding("nitrogen removed with a quarter covered, of the most, in a fed tank", "%",
                one(67.0), float(fed), 47.0, 87.0, PRACTICE),
        Finding("the same where food is never short", "%", one(67.0), float(rich), 47.0, 87.0,
                PRACTICE, held=(25.0, 47.0), because="with food in plenty removal goes with the "
                "light that is caught; two thirds holds where feed sets the pace"),
    ]  # fmt: skip


def five_months() -> list[Finding]:
    """Five months without a change of water: harvests and two kinds of top-up."""
    solids = []
    for water in (PURE, HARD):
        result = tank(150, 0.5, "dissolved_solids", cover=0.4, every=30.0, water=water,
                      meals=3)  # fmt: skip
        level = result.of("dissolved_solids")[:, 0]
        solids.append(float(level[-1] / level[0]))
    return [
        Finding("dissolved solids after 150 days over those at the start, salt-free top-up", "1",
                one(1.0), solids[0], 0.8, 1.2, PRACTICE),
        Finding("the same with hard top-up", "1", None, solids[1], 1.5, 10.0,
                "common practice: it creeps past what shrimp stand"),
    ]  # fmt: skip


def dawn() -> list[Finding]:
    """Oxygen before the lamp goes on, under a thin and a thick mat."""
    lowest = [
        float(tank(6, 0.12 * density, "oxygen_concentration", every=1 / 24, flow=0.0)
              .of("oxygen_concentration")[-25:, 0].min())
        for density in (4.0, 45.0)
    ]  # fmt: skip
    return [
        Finding("lowest oxygen of the sixth day under a thick mat less that under a thin one",
                "mg/L", None, lowest[1] - lowest[0], -6.0, -0.3, "common practice: it is lower"),
    ]  # fmt: skip


def current() -> list[Finding]:
    """Nitrogen taken up in still, gently and strongly moved water."""
    rows = ("take_up_ammonium_floater1", "take_up_nitrate_floater1")
    taken = [
        float(extent(tank(15, 0.4, every=15.0, extents=True, litres=3000.0, meals=0, flow=f),
                     *rows)[-1])
        for f in (0.0, 1.0, 2.0)
    ]  # fmt: skip
    return [
        Finding("uptake in a gentle current over that in still water", "1", None,
                taken[1] / taken[0], 1.02, 2.0, "common practice: a little flow helps"),
        Finding("uptake in a strong current over that in still water", "1", None,
                taken[2] / taken[0], 0.1, 0.9, "common practice: a lot of flow hurts"),
    ]  # fmt: skip


def metals_back() -> list[Finding]:
    """Copper that plants took up: given back by an old mat, taken away by harvests."""
    back, left = [], []
    for cover in (None, 0.4):
        result = tank(91, 3.0, "copper_concentration", cover=cover, every=30.0, extents=True,
                      medium={"copper": 0.03}, meals=3)  # fmt: skip
        rows = ("release_copper_floater1", "shed_floater1_copper")
        taken = extent(result, "take_up_copper_floater1")[-1]
        back.append(float(extent(result, *rows)[-1] / taken))
        left.append(float(result.of("copper_concentration")[-1, 0]))
    return [
        Finding("copper that an old mat gave back in three months, of what it took up", "%", None,
                100.0 * back[0], 70.0, 100.0, "common practice: an unharvested mat gives it back"),
        Finding("copper left in the water, unharvested over harvested", "1", None,
                left[0] / left[1], 1.05, 10.0, "common practice: harvests take it away"),
    ]  # fmt: skip


TANK = "30 L, 0.12 m2, 24 degC, 10 h of 90 umol/m2/s, 7 mg N a day in feed; invented"
CASES = (
    Case("canopy", "A quarter of the surface covered", "common_practice", "trade", TANK, canopy,
         slow=True),
    Case("five months", "Five months without a change of water", "common_practice", "trade", TANK,
         five_months, slow=True),
    Case("dawn", "Dawn oxygen under a thick mat", "common_practice", "trade", TANK, dawn),
    Case("current", "Uptake and current", "common_practice", "trade", TANK, current),
    Case("metals back", "Metals of an old mat", "common_practice", "trade", TANK, metals_back,
         slow=True),
)  # fmt: skip
