"""Every validation case, by theme: the tests and the report page read them here."""

from __future__ import annotations

from . import cases_data, cases_growth, cases_oxygen, cases_systems, cases_trade
from .case import Case, MissingDataError

__all__ = ["CASES", "THEMES", "MissingDataError"]
THEMES: tuple[tuple[str, tuple[Case, ...]], ...] = (
    ("Growth of floating plants", cases_growth.CASES),
    ("Plant systems", cases_systems.CASES),
    ("Oxygen that others measured", cases_oxygen.CASES),
    ("Soils, poisons and fronds in context", cases_data.CASES),
    ("What keepers know", cases_trade.CASES),
)
CASES: tuple[Case, ...] = tuple(case for _, cases in THEMES for case in cases)
