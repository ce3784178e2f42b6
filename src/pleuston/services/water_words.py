"""A finding about a source water, as plain data."""

from __future__ import annotations

from typing import Any

Finding = dict[str, Any]
WORDS = ("fine", "look", "slip", "act")
"""Nothing to do; worth a look; a number is likely wrong; something must be done."""


def finding(
    what: str,
    value: float | None,
    unit: str,
    word: str,
    reason: str,
    source: str,
    low: float | None = None,
    high: float | None = None,
) -> Finding:
    """One finding; low and high are what is expected, open ends None."""
    return {
        "what": what, "value": value, "unit": unit, "low": low, "high": high,
        "word": word, "reason": reason, "source": source,
    }  # fmt: skip
