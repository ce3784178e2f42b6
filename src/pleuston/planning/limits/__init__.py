"""Limits that keep animals safe: each with species, source, conditions, word and icon."""

from pleuston.planning.limits.choose import (
    Breach,
    Caps,
    breaches,
    caps_for,
    chance_of_crossing,
    conflicts,
    limits_for,
    state_of,
)
from pleuston.planning.limits.criteria import WaterState
from pleuston.planning.limits.declare import (
    SEVERITIES,
    Limit,
    LimitRecord,
    Severity,
    beyonds,
    records,
)

__all__ = [
    "SEVERITIES",
    "Breach",
    "Caps",
    "Limit",
    "LimitRecord",
    "Severity",
    "WaterState",
    "beyonds",
    "breaches",
    "caps_for",
    "chance_of_crossing",
    "conflicts",
    "limits_for",
    "records",
    "state_of",
]
