"""The card at a tank's shelf edge: what stands in it, what it needs, how to log."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pleuston.planning.limits import Limit, limits_for
from pleuston.planning.outlook import shown_bound
from pleuston.records.own_limits import own_limits
from pleuston.reports.paper.facts import Facts, animals_said, both_names, species_of
from pleuston.reports.paper.labels import qr_svg
from pleuston.reports.paper.sheet import Sheet, sheet_of
from pleuston.reports.paper.words import day_of, number, rounded, short_name

ROWS = (
    ("temperature", "Temperature", "°C"), ("ph", "pH", ""), ("kh", "KH", "°dH"),
    ("gh", "GH", "°dH"), ("ec25", "Conductivity", "µS/cm"),
    ("nitrate", "Nitrate, as N", "mg/L"), ("oxygen_dawn", "Oxygen at dawn", "mg/L"),
)  # fmt: skip
ALWAYS = (
    "Ammonia and nitrite: nothing on the kit.",
    "Copper: nothing on a kit does not mean safe for shrimp and snails.",
    "Where each limit is from stands in the reference, under limits.",
)
GASPING = "Gasping? Scoop and pour, open the surface, lid off, no food. No better in half an " \
    "hour: change a third of the water, matched. Then the gasping card."  # fmt: skip


def tank_card(tanks: Sequence[Facts]) -> Sheet:
    """The cards of tanks as they stand now, one to a page."""
    title = f"Tank card of {tanks[0].name}" if len(tanks) == 1 else "Tank cards"
    cards = [_card(facts) for facts in tanks]
    return sheet_of("tank-card", title, tanks[0].local, {"cards": cards})


def _card(facts: Facts) -> dict[str, Any]:
    return {
        "name": facts.name,
        "rack": short_name(facts.record.rack.name or "Rack"),
        "day": day_of(facts.local),
        "facts": [{"what": what, "value": value} for what, value in _facts(facts)],
        "animals": animals_said(facts),
        "floating": [both_names(name) for name in facts.floating],
        "rooted": [both_names(name) for name in facts.rooted],
        "limits": _limits(facts),
        "always": [*(ALWAYS if facts.animals else ()), *_own_said(facts)],
        "gasping": GASPING,
        "address": facts.address,
        "qr": qr_svg(facts.address),
    }


def _facts(facts: Facts) -> list[tuple[str, str]]:
    tank = facts.tank
    per_cm = 10.0 * float(tank.surface_m2)
    heater = "none" if tank.heater_c is None else f"{number(float(tank.heater_c))} °C"
    rows = [
        ("Water", f"{number(float(tank.net_l))} L net; 1 cm is {rounded(per_cm)} L"),
        ("Top up with", short_name(tank.top_up_water) if tank.top_up_water else ""),
        ("Feed", _feed(facts)),
        ("Leave covered", _percent(tank.cover_target_pct)),
        ("Lamp", "" if tank.light_hours is None else f"{number(float(tank.light_hours))} h a day"),
        ("Heater", heater),
        ("Lid, water", f"{tank.lid}, {tank.flow}"),
        ("Soil", _soil(facts)),
    ]
    return [(what, value) for what, value in rows if value]


def _feed(facts: Facts) -> str:
    grams = facts.feed_per_day
    if grams is None:
        return ""
    return f"{rounded(grams)} g a day on average" + (
        f" ({', '.join(short_name(f) for f in facts.feeds[:2])})" if facts.feeds else ""
    )


def _percent(value: float | None) -> str:
    return "" if value is None else f"{number(float(value))} % of the surface"


def _soil(facts: Facts) -> str:
    tank = facts.tank
    if not tank.soil and tank.soil_mm is None:
        return ""
    parts = [short_name(tank.soil) if tank.soil else "soil"]
    if tank.soil_mm is not None:
        parts.append(f"{number(float(tank.soil_mm))} mm")
    if tank.cap_mm is not None:
        parts.append(f"cap {number(float(tank.cap_mm))} mm")
    if tank.soil_since is not None:
        parts.append(f"since {tank.soil_since.year}")
    return ", ".join(parts)


def _limits(facts: Facts) -> list[dict[str, str]]:
    """Each quantity with its comfortable range and where to act."""
    known = [name for name in facts.animals if species_of(name) is not None]
    own = own_limits(facts.record, facts.tank.name, facts.moment)
    found = limits_for(known, own=own)
    rows = []
    for quantity, label, unit in ROWS:
        alike = [limit for limit in found if limit.quantity == quantity]
        good, act = _range(alike, "watch"), _range(alike, "act")
        if good or act:
            what = f"{label} *" if any(limit.is_own for limit in alike) else label
            rows.append({"what": what, "unit": unit, "good": good, "act": act})
    return rows


def _own_said(facts: Facts) -> list[str]:
    """What stands behind the limits marked with a star, if any is."""
    own = own_limits(facts.record, facts.tank.name, facts.moment)
    said = dict.fromkeys(f"{x.reason}, since {x.since}" for x in own)
    return [f"* Your own limit: {'; '.join(said)}."] if said else []


def _range(limits: list[Limit], severity: str) -> str:
    sides = {x.side: shown_bound(x) for x in limits if x.severity == severity}
    low, high = sides.get("low"), sides.get("high")
    if low is not None and high is not None:
        return f"{rounded(low)} to {rounded(high)}" if low <= high else "animals disagree"
    if low is not None:
        return f"from {rounded(low)}"
    return "" if high is None else f"up to {rounded(high)}"

