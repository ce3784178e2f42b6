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
from pleuston.planning.limits.own import GUARDED, applied, refusal
from pleuston.records.own_limits import OwnLimit, own_limits

__all__ = [
    "GUARDED",
    "SEVERITIES",
    "Breach",
    "Caps",
    "Limit",
    "LimitRecord",
    "OwnLimit",
    "Severity",
    "WaterState",
    "applied",
    "beyonds",
    "breaches",
    "caps_for",
    "chance_of_crossing",
    "conflicts",
    "limits_for",
    "own_limits",
    "records",
    "refusal",
    "state_of",
]
