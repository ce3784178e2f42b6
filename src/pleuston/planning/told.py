"""What in a tank's record tells of a danger, so that an alarm does not rest on literature alone.

Where nobody read a quantity and nothing was seen that goes with it, what members say of it
comes from literature. That is a reason to look and to test, not to alarm. A later reading
answers an older one, and of a closed surface the keeper's last look speaks.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import inf
from typing import Protocol

from pleuston.records.library import library
from pleuston.records.readings import Interval, interval
from pleuston.records.record import Entry

SURE = 0.9
"""Chance from which members are believed without a reading or sign."""
LATELY, LONG = 14.0, 42.0
"""Days in which a sign, and a reading, still tell of now: common practice, no source."""
READ: Mapping[str, tuple[str, ...]] = {
    "oxygen_dawn": ("oxygen", "oxygen_saturation"), "oxygen": ("oxygen", "oxygen_saturation"),
    "ammonia_nh3": ("ammonium",), "ammonium": ("ammonium",), "nitrite": ("nitrite",),
    "copper": ("copper",), "cover": ("cover",),
}  # fmt: skip
"""Quantity of a limit -> readings that tell of it. Limits of others are taken as they are."""
SIGNS: Mapping[str, tuple[str, ...]] = {
    "oxygen_dawn": ("gasping", "film"), "oxygen": ("gasping", "film"),
    "ammonia_nh3": ("cloudy", "melt", "gasping"), "ammonium": ("cloudy", "melt"),
    "nitrite": ("cloudy", "gasping"), "copper": ("hiding",), "cover": (),
}  # fmt: skip
DONE: Mapping[str, tuple[str, ...]] = {
    "oxygen_dawn": ("power_off", "stock_in", "death"),
    "oxygen": ("power_off", "stock_in", "death"),
    "ammonia_nh3": ("soil_disturbed", "power_off", "stock_in", "death"),
    "ammonium": ("soil_disturbed", "power_off", "stock_in", "death"),
    "nitrite": ("soil_disturbed", "power_off", "stock_in", "death"), "copper": (),
    "cover": (),
}  # fmt: skip
"""What was done or happened that moves a quantity by itself, by kind of entry."""
MUCH_COPPER = 0.01
"""Copper noted of a water poured in [mg/L] that is too much for shrimp in time (arthur1970)."""
LITTLE = 4.0
"""Oxygen [mg/L] that a reading must not rule out to speak of too little by dawn; of a limit that
asks for less it must not rule out that."""
CLOSED, WARM = 0.8, 301.15
"""Cover and temperature [K] read that take oxygen: common practice, no source."""
SHUT = 0.95
"""Cover read that leaves no open surface: what the eye last saw counts, as a look costs nothing;
as the limit it speaks of (planning/limits/oxygen.toml), a guess."""
AS_EARLY = 60.0
"""Minutes by which a reading of oxygen may lie later in the day and still answer another: common
practice, no source."""
YOUNG = 60.0
"""Age of a tank [d] until which ammonia and nitrite are to be expected."""
SEVERAL = 3.0
"""Shrimp or snails dead within six weeks that speak of copper."""


class Known(Protocol):
    """What is asked of a view."""

    def entries(self, days: float) -> list[Entry]:
        """The tank's entries of the last days."""

    @property
    def age(self) -> float:
        """The tank's age [d]; infinite where it is not known."""

    @property
    def poured_copper(self) -> float:
        """Copper noted of the water that the tank is topped up with [mg/L]; 0 where none is."""


def is_told(known: Known, quantity: str, chance: float, bound: float = inf) -> bool:
    """Whether a reading, a sign or something done stands behind what members say of a quantity.

    bound: what the limit in question allows, of oxygen [mg/L] and of cover [1]. A limit of cover
    that leaves more of the surface open than SHUT, as a keeper's own may, stands as it is.
    """
    if quantity not in READ or chance >= SURE or (quantity == "cover" and bound < SHUT):
        return True
    late, lately = known.entries(LONG), known.entries(LATELY)
    if quantity == "cover":
        return _stands(lately, READ[quantity], bound)
    if _stands(late, READ[quantity], bound):
        return True
    if any(e.kind == "seen" and e.what in SIGNS[quantity] for e in lately):
        return True
    if any(e.kind in DONE[quantity] for e in lately):
        return True
    if quantity in ("oxygen_dawn", "oxygen"):
        return any(_closes(e) for e in lately)
    if quantity == "copper":
        dosed = any(e.kind == "dose" and "copper" in e.what for e in late)
        dead = [e for e in late if e.kind == "death" and _shelled(e)]
        return (dosed or known.poured_copper >= MUCH_COPPER
                or sum(e.amount or 1.0 for e in dead) >= SEVERAL)  # fmt: skip
    return known.age < YOUNG


def _stands(entries: list[Entry], quantities: tuple[str, ...], bound: float) -> bool:
    """Whether a reading leaves room for trouble that no later one took away again."""
    little = min(bound, LITTLE)
    read = [(e, r) for e in entries if e.kind == "reading" and (r := interval(e)).quantity in
            quantities]  # fmt: skip
    clear = [e for e, r in read if not _troubled(r, little)]
    return any(
        _troubled(r, little) and not any(_answers(c, e, r.quantity) for c in clear)
        for e, r in read
    )


def _troubled(read: Interval, little: float) -> bool:
    """More than nothing, maybe too little oxygen, or a surface without an opening."""
    if read.quantity == "oxygen":
        return read.low < little
    if read.quantity == "cover":
        return 0.5 * (read.low + read.high) >= SHUT
    return read.quantity == "oxygen_saturation" or read.low > 0.0


def _answers(later: Entry, one: Entry, quantity: str) -> bool:
    """Whether a reading was taken after another, of oxygen as early in the day."""
    if later.at <= one.at:
        return False
    minutes = [60.0 * e.at.hour + e.at.minute for e in (later, one)]
    return quantity not in READ["oxygen"] or minutes[0] <= minutes[1] + AS_EARLY


def _closes(entry: Entry) -> bool:
    """A reading of a closed mat or of warm water."""
    if entry.kind != "reading":
        return False
    read = interval(entry)
    bound = {"cover": CLOSED, "temperature": WARM}.get(read.quantity)
    return bound is not None and 0.5 * (read.low + read.high) >= bound


def _shelled(entry: Entry) -> bool:
    return library().find_species(entry.what).group in ("shrimp", "snails")
