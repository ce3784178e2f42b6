"""What a night from a logger tells, in the keeper's words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def in_words(answer: Mapping[str, Any]) -> list[str]:
    """Sentences for the page and the command, the last night first."""
    night, tonight = answer["nights"][-1], answer["tonight"]
    words = [_told(night), _level(night), _probe(night)]
    words += [_coming(one, tonight) for one in tonight["nights"]]
    return [*words, _too_warm(tonight)]


def _between(three: Mapping[str, float], digits: int = 2) -> str:
    low, middle, high = (three[key] for key in ("low", "middle", "high"))
    return f"{middle:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"


def _told(night: Mapping[str, Any]) -> str:
    rate, use = night["exchange_1_d"], night["respiration_mg_l_h"]
    if night["told_apart"]:
        return (
            f"The water trades its oxygen with the air {_between(rate, 1)} times a day; plants, "
            f"animals and bed breathe {_between(use)} mg/L an hour."
        )
    well = night["told_well"]
    return (
        "This night can't tell exchange and breathing apart: a quick surface with much breathing "
        f"looks like a slow one with little ({_between(rate, 1)} times a day; {_between(use)} mg/L "
        f"an hour). What it tells well: breathing took {_between(well['net_loss_mg_l_h'], 3)} mg/L "
        f"an hour more than the air gave, {well['shortfall_mg_l']:.1f} mg/L below saturation."
    )


def _level(night: Mapping[str, Any]) -> str:
    if night["told_apart"]:
        return (
            f"Left dark for long it would settle {_between(night['deficit_mg_l'])} mg/L below "
            f"saturation ({night['saturation_mg_l']:.1f} mg/L at {night['temperature_c']:.1f} C)."
        )
    return (
        f"Where it would settle in the end is not told: {night['deficit_mg_l']['low']:.1f} to "
        f"{night['deficit_mg_l']['high']:.1f} mg/L below saturation."
    )


def _probe(night: Mapping[str, Any]) -> str:
    off = 0.02 * night["saturation_mg_l"]
    use = night["exchange_1_d"]["middle"] * off / 24.0
    return (
        f"This holds if the probe is right: one that reads 2 % off ({off:.2f} mg/L) moves the "
        f"breathing by {use:.2f} mg/L an hour. Check it in air first."
    )


def _coming(one: Mapping[str, Any], tonight: Mapping[str, Any]) -> str:
    chance = one["chance_below"]
    odds = "hardly any chance" if chance < 0.01 else f"{100.0 * chance:.0f} chances in 100"
    return (
        f"A night of {tonight['hours']:.0f} h at {one['temperature_c']:.1f} C from "
        f"{100.0 * tonight['dusk_share']:.0f} % at dusk would go down to "
        f"{_between(one['lowest_mg_l'], 1)} mg/L; {odds} of less than "
        f"{tonight['limit_mg_l']:g} mg/L."
    )


def _too_warm(tonight: Mapping[str, Any]) -> str:
    warm, top = tonight["too_warm_c"], tonight["looked_to_c"]
    limit = f"{tonight['limit_mg_l']:g} mg/L"
    if warm["middle"] is None:
        early = "" if warm["low"] is None else f", though it may from {warm['low']:.0f} C on"
        return f"The lowest of the night is not expected below {limit} up to {top:.0f} C{early}."
    high = f"above {top:.0f}" if warm["high"] is None else f"{warm['high']:.0f}"
    return (
        f"From {warm['middle']:.0f} C on (between {warm['low']:.0f} and {high}) the lowest of the "
        f"night falls below {limit}."
    )
