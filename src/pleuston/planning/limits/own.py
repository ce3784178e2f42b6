"""A keeper's own limits beside the library's: which of the two holds, and what is refused.

docs/decisions/019: a stricter own limit always holds. A looser one holds only where it is one
to watch, of nothing that kills fast, and no further than the next graver limit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from pleuston.planning.limits.criteria import WaterState
from pleuston.planning.limits.declare import OWN, SEVERITIES, Limit
from pleuston.records.kinds import LIMITED
from pleuston.records.library import Species
from pleuston.records.own_limits import SIDES, OwnLimit, written_value

STEPS = ("ec_step", "ph_step", "temperature_step")
GUARDED = ("ammonia_nh3", "ammonium", "nitrite", "copper", "oxygen_dawn", *STEPS)
"""What kills fast, and steps: their limits can only be made stricter."""
LOOSER = "watch"
"""The severity whose limits may be looser."""
LENIENT = tuple(WaterState(283.15, ph, 1e3, 8.0, 20.0) for ph in (6.5, 8.5))
"""Waters in which criteria that ask the water allow the most."""
UNITS = {"ec_step": "1/d", "ph_step": "1/d", "temperature_step": "K/d", "ph": "1"}
"""Units of limits that the library writes otherwise than the record does."""
Key = tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class Refused:
    """Why an own limit is not kept, and what would be."""

    what: str
    remedy: str


def applied(found: Mapping[Key, Limit], own: Sequence[OwnLimit], animal: str) -> dict[Key, Limit]:
    """The limits of one animal with the keeper's own; animal: its name, empty for none at all."""
    chosen = {
        (x.quantity, x.side, x.severity): x for x in own if x.species in ("", animal)
    }  # fmt: skip
    result = dict(found)
    for key, limit in chosen.items():
        library = found.get(key)
        made = _limit(limit, library, found, animal)
        if library is None or made.is_stricter(library.value) or may_loosen(limit):
            result[key] = made
    return _settled(result, {key[:2] for key in chosen})


def may_loosen(own: OwnLimit) -> bool:
    """Whether an own limit may be looser than the library's."""
    return own.severity == LOOSER and own.quantity not in GUARDED


def _limit(
    own: OwnLimit, library: Limit | None, found: Mapping[Key, Limit], animal: str
) -> Limit:
    alike = [x for (q, s, _), x in found.items() if (q, s) == (own.quantity, own.side)]
    horizon = library.horizon if library else alike[0].horizon if alike else "day"
    unit = library.unit if library else UNITS.get(own.quantity, LIMITED[own.quantity].canonical)
    word = library.word if library else f"{own.quantity.replace('_', ' ')} beyond what you want"
    return Limit(
        own.quantity, own.side, own.value, unit, horizon, own.severity,
        (animal,) if animal else (), f"{word} (your own limit)", OWN,
        applied_text(own), _beside(library), OWN,
        f"set by {own.by}" if own.by else "",
    )  # fmt: skip


def applied_text(own: OwnLimit) -> str:
    """How an own limit is told where it holds."""
    return f"your own limit: {own.reason}, since {own.since}"


def _beside(library: Limit | None) -> str:
    if library is None:
        return "the library has no such limit here"
    return f"the library's limit: {said(library)} ({library.source}, {library.where})"


def said(limit: Limit) -> str:
    """A limit's side and value as keepers write it.

    >>> from pleuston.planning.limits import limits_for
    >>> said(next(x for x in limits_for(["Danio rerio"]) if x.quantity == "ammonia_nh3"))
    'at most 0.0164 mg/L'
    """
    value, unit = written_value(limit.quantity, limit.value)
    return f"{SIDES[limit.side]} {value:.4g} {unit}".strip()


def _settled(found: dict[Key, Limit], touched: Iterable[tuple[str, str]]) -> dict[Key, Limit]:
    """Where an own limit is, no graver limit stands inside a milder one: the milder moves."""
    for quantity, side in touched:
        graver: Limit | None = None
        for severity in reversed(tuple(SEVERITIES)):
            key = (quantity, side, severity)
            limit = found.get(key)
            if limit is None:
                continue
            if graver is not None and graver.is_stricter(limit.value):
                if limit.is_own:
                    limit = replace(limit, value=graver.value)
                elif graver.is_own:
                    limit = replace(graver, severity=severity, horizon=limit.horizon)
                found[key] = limit
            graver = limit
    return found


def refusal(own: OwnLimit, libraries: Sequence[Sequence[Limit]]) -> Refused | None:
    """Why an own limit can't be kept beside the library's limits; None where it can.

    libraries: the library's limits of the animals it is for, in each of the waters LENIENT:
    it is refused only where it would be looser in every water.
    """
    found = [_refused(own, library) for library in libraries]
    return found[0] if found and all(found) else None


def _refused(own: OwnLimit, library: Sequence[Limit]) -> Refused | None:
    alike = {
        x.severity: x for x in library if (x.quantity, x.side) == (own.quantity, own.side)
    }  # fmt: skip
    same = alike.get(own.severity)
    written = f"{SIDES[own.side]} {own.written:g} {own.unit}".strip()
    name = own.what.replace("_", " ")
    if same is not None and same.is_stricter(own.value) and not may_loosen(own):
        why = (
            f"of {name} no limit may be looser" if own.quantity in GUARDED
            else f"a limit to {own.severity} may not be looser"
            if own.severity == "act" else "a limit of danger may not be looser"
        )  # fmt: skip
        return Refused(
            f"{name} {written} ({own.severity}) is looser than the library's, "
            f"{said(same)} ({same.word}): {why}",
            f"set {said(same)} or stricter" + (
                "" if own.quantity in GUARDED
                else f"; only limits to {LOOSER} may be looser, with their reason"
            ),
        )  # fmt: skip
    ranks = SEVERITIES[own.severity].rank
    for graver in sorted(alike.values(), key=lambda x: x.rank):
        if graver.rank > ranks and graver.is_stricter(own.value):
            return Refused(
                f"{name} {written} ({own.severity}) lies beyond the library's graver limit, "
                f"{said(graver)} ({graver.severity}: {graver.word})",
                f"set {said(graver)} or stricter",
            )
    return None


def judged_for(own: OwnLimit, present: Iterable[Species | str]) -> tuple[Species | str, ...]:
    """The animals whose library limits an own limit is held against."""
    return (own.species,) if own.species else tuple(present)
