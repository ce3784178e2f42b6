"""Read the cells of a keeper's own limit (records/own_limits.py) from a row of entries."""

from __future__ import annotations

from pleuston.base.errors import PleustonError
from pleuston.records.kinds import LIMIT_SEVERITIES, LIMITED
from pleuston.records.library import ANIMAL_GROUPS, library
from pleuston.records.own_limits import SIDES, is_reason, severity_and_species
from pleuston.store.exchange_cells import Row
from pleuston.store.exchange_units import Amount, BadUnitError, in_unit, reading_amount

_DEGREES = ("C", "degC", "°C")


def limit_amount(row: Row, kind: str, what: str, given: Amount) -> Amount:
    """The value of a limit in the unit it is written in; low is "at least", high "at most".

    Raises BadUnitError where the unit does not fit.
    """
    item = LIMITED.get(what)
    if item is None:
        return given
    if given.low is None and given.high is None:
        if kind == "limit":
            remedy = "give low for at least, high for at most, or both"
            row.refuse("low", "the limit has no value", remedy)
        return Amount(None, None, "")
    taken = _in_unit(what, given)
    for side in SIDES:
        value = getattr(taken, side)
        if value is not None and side not in item.sides:
            row.refuse(side, f"{what} can't have a least value", "give high, for at most")
        elif value is not None and not item.least <= value <= item.most:
            what_is_wrong = f"a limit of {what} cannot be {value.text} {taken.unit}".rstrip()
            row.refuse(side, what_is_wrong, f"it lies between {item.least:g} and {item.most:g}")
    if taken.low is not None and taken.low == taken.high:
        row.refuse(
            "high", "low and high are the same, so that no value would keep the limit",
            "leave high empty for at least, low empty for at most",
        )  # fmt: skip
    return taken


def _in_unit(what: str, given: Amount) -> Amount:
    """A difference of temperature is in kelvin; degrees Celsius are as large."""
    item = LIMITED[what]
    if what == "temperature_step":
        if given.unit not in ("", "K", *_DEGREES):
            raise BadUnitError(
                f"{given.unit!r} is no unit of a difference of temperature here", "write it in K"
            )
        return Amount(given.low, given.high, "K")
    if what in ("ph", "ph_step"):
        return reading_amount("ph", "", given)
    unit = given.unit or item.unit
    if what == "ec_step":
        return in_unit(Amount(given.low, given.high, unit), item.unit)
    return reading_amount(what, item.unit, Amount(given.low, given.high, unit))


def limit_method(row: Row, kind: str) -> str:
    """How bad it is to be beyond a limit, and its species under the name that counts."""
    text = row.text("method")
    severity, species = severity_and_species(text)
    if not severity:
        row.refuse(
            "method", f"{text!r} does not say how bad it is to be beyond the limit",
            f"write {', '.join(LIMIT_SEVERITIES[:-1])} or {LIMIT_SEVERITIES[-1]}, then after a "
            "comma a species where it holds for one alone",
        )  # fmt: skip
        return text
    if not is_reason(row.text("note")):
        verb = "is set" if kind == "limit" else "ends"
        row.refuse("note", f"the reason why the limit {verb} is missing", "say it in words")
    if species:
        try:
            species = library().find_species(species, ANIMAL_GROUPS).name
        except PleustonError as fault:
            row.refuse("method", fault.what, fault.remedy)
            return text
    taken = f"{severity}, {species}" if species else severity
    if taken != text:
        row.changed("method", text, taken)
    return taken
