"""The laws that every row, move and state obeys, and the list of all their subjects.

Each law is a function that raises AssertionError where a subject breaks it. The lists
are what the suite is parametrised over; `counted` says how many there have to be.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction
from functools import cache

from pleuston.base import references
from pleuston.model.declare import Closed, State

from .evaluate import World, tank

BIOMASS = (
    "floater1_carbon", "floater2_carbon", "floater3_carbon", "rooted_carbon", "algae_carbon",
    "heterotrophs", "ammonia_oxidisers", "nitrite_oxidisers", "fish_body", "shrimp_body",
    "snails_body",
)  # fmt: skip
"""The states that stand for living things."""
ALSO_GONE = {
    "floater": ("nitrogen", "phosphorus", "potassium", "iron", "copper", "zinc"),
    "rooted": ("nitrogen", "phosphorus", "potassium", "copper", "zinc"),
    "algae": ("nitrogen", "phosphorus"),
}
"""What is gone too when the carbon of a living thing is."""


# -- what the laws hold for ----------------------------------------------------


@cache
def changes() -> tuple[Closed, ...]:
    """Every row and every move."""
    return (*tank().rows, *tank().moves)


def named(name: str) -> Closed:
    """A row or move by its name."""
    return next(c for c in changes() if c.name == name)


@cache
def balances() -> tuple[tuple[str, str], ...]:
    """Every row and move with every conserved thing."""
    return tuple((c.name, thing) for c in changes() for thing in tank().elements)


@cache
def drains() -> tuple[tuple[str, str], ...]:
    """Every row and move with every floored state that it consumes."""
    states = tank().states
    return tuple(
        (c.name, s)
        for c in changes() for s, amount in c.coefficients.items()
        if amount < 0 and states[s].floor is not None
    )  # fmt: skip


@cache
def never_negative() -> tuple[str, ...]:
    """Every row and move that touches a floored state."""
    states = tank().states
    return tuple(
        c.name for c in changes() if any(states[s].floor is not None for s in c.coefficients)
    )


def _of(biomass: str, change: Closed) -> bool:
    """Whether a row is the work of a living thing."""
    owner = biomass.removesuffix("_carbon").removesuffix("_body")
    words = change.name.split("_")
    special = {
        "rooted": {"leak_oxygen_to_soil"},
        "ammonia_oxidisers": {"oxidise_ammonium"},
        "nitrite_oxidisers": {"oxidise_nitrite"},
        "snails": {f"graze_algae_{e}" for e in ("carbon", "nitrogen", "phosphorus")},
    }
    if change.name in special.get(owner, set()):
        return True
    if owner == "rooted" and change.name.startswith("take_up") and words[-1] == "soil":
        return True
    if owner == "algae" and words[0] == "graze" and "algae" in words:
        return True
    if "_" in owner or owner == "heterotrophs":
        return change.name.endswith(owner)
    return owner in words


@cache
def living() -> tuple[tuple[str, str], ...]:
    """Every living state with every row that is its work."""
    return tuple((b, r.name) for b in BIOMASS for r in tank().rows if _of(b, r))


def without(biomass: str, world: World) -> World:
    """The same tank without a living thing."""
    owner = biomass.split("_")[0]
    family = "floater" if owner.startswith("floater") else owner
    gone = [biomass, *(f"{owner}_{e}" for e in ALSO_GONE.get(family, ()))]
    if biomass.endswith("_body"):
        gone += [f"{owner}_gut_{e}" for e in ("carbon", "nitrogen", "phosphorus")]
    return world.but(**dict.fromkeys(gone, 0.0))


def counted() -> dict[str, int]:
    """How many laws there have to be of each kind, from the sizes of the model alone."""
    model = tank()
    both = len(model.rows) + len(model.moves)
    consumed = sum(
        1
        for c in (*model.rows, *model.moves) for s, amount in c.coefficients.items()
        if amount < 0 and model.states[s].floor == 0.0
    )  # fmt: skip
    return {
        "test_balances": both * len(model.elements),
        "test_has_a_source": both,
        "test_drains_no_empty_store": consumed,
        "test_is_never_negative": both - len(_heat_only()),
        "test_nothing_alive_nothing_done": len(living()),
        "test_unit_of_change": both,
        "test_unit_of_quantity": len(model.quantities),
        "test_doubled_tank_doubles": both,
        "test_books_close": len(model.elements),
    }


def _heat_only() -> list[str]:
    return [c.name for c in changes() if set(c.coefficients) <= {"heat", "alkalinity"}]


# -- the laws ------------------------------------------------------------------


def balance(change: Closed, states: dict[str, State], thing: str) -> None:
    """What a unit of a change makes of a conserved thing is what it carries across, exactly."""
    made = sum(
        (Fraction(c) * Fraction(states[s].holds.get(thing, 0))
         for s, c in change.coefficients.items()),
        Fraction(0),
    )  # fmt: skip
    crossed = change.carried.get(thing, Fraction(0))
    assert made == crossed, f"{change.name} makes {float(made)} {thing}, carries {float(crossed)}"
    assert crossed == 0 or change.crosses, f"{change.name} carries {thing} across no boundary"


def source(change: Closed) -> None:
    """Every change names a source of the bibliography, and the place in it."""
    assert change.source in references.load(), f"{change.name}: no source {change.source!r}"
    assert change.where.strip(), f"{change.name} says no place in {change.source}"


def drains_no_empty_store(change: Closed, state: str, of: Iterable[World]) -> None:
    """A change that consumes a state is exactly nothing where that state is empty."""
    for world in of:
        size = world.but(**{state: 0.0}).size(change)
        assert size == 0.0, f"{change.name} takes {size} {change.unit} of {state}, which is empty"


def is_never_negative(change: Closed, of: Iterable[World]) -> None:
    """A rate or amount is finite and not negative."""
    for world in of:
        size = world.size(change)
        assert math.isfinite(size), f"{change.name} is {size}"
        assert size >= 0.0, f"{change.name} is {size}"


def nothing_alive_nothing_done(change: Closed, biomass: str, of: Iterable[World]) -> None:
    """A row that is the work of a living thing stands still without it."""
    for world in of:
        size = without(biomass, world).size(change)
        assert size == 0.0, f"{change.name} goes on at {size} without {biomass}"
