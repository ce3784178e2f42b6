"""A night from a logger: read, check, fit, and say what it means for the night to come."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta, tzinfo
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from pleuston.base.errors import InputError
from pleuston.chemistry.oxygen import oxygen_at_saturation, oxygen_salting_out, pressure_at_altitude
from pleuston.engine.forcing import LIGHT_MIDDLE
from pleuston.inference import night_checks as checks
from pleuston.inference.night import (
    HOURS,
    LEAST_READINGS,
    Array,
    Coming,
    Night,
    NightFit,
    dark_by_curve,
    fit_night,
)
from pleuston.records.record import KELVIN, Record
from pleuston.services.log import log_entries
from pleuston.services.logger_file import LoggerFile, read_logger
from pleuston.services.night_words import in_words
from pleuston.services.who import Who
from pleuston.store.session import Database

ATMOSPHERE = 1013.25
SETTLING = 10.0 / 1440.0
"""Left out after the light goes off [d]: leaves and probe need a while."""
MOST_NIGHTS, USUAL_NIGHT, LIMIT = 7, 12.0, 4.0
STEP_OF_PROBE = 0.05
METHOD = "logger, meter"
Span = tuple[float, float]


@dataclass(frozen=True)
class Asked:
    """What is known beside the file; None or empty: told by the file, the rack, or assumed."""

    temperature_c: float | None = None
    pressure_hpa: float | None = None
    altitude_m: float | None = None
    salinity_g_kg: float = 0.0
    timezone: str = ""
    columns: Mapping[str, str] = field(default_factory=dict)
    dark: str = ""
    percent_of: str = ""
    limit_mg_l: float = LIMIT
    tonight_c: tuple[float, ...] = ()


@dataclass
class _Told:
    """What is gathered on the way."""

    assumed: list[str]
    findings: list[checks.Finding]
    dark_hours: float = 0.0
    """Length of a whole night where hours or a lamp tell it."""


def oxygen_answer(
    data: bytes, name: str, asked: Asked, record: Record | None = None, tank: str = ""
) -> dict[str, Any]:
    """What a probe's file tells about the nights in it and the one to come."""
    zone, word = _zone(asked, record)
    file = read_logger(data, name, zone, word, asked.columns)
    told = _Told(list(file.notes), [])
    file, columns = _in_order(file, told)
    oxygen, celsius, pressure = _water(file, columns, asked, record, told)
    salt = _salt(columns, asked, celsius)
    known = np.isfinite(oxygen)
    spans, by = _dark(file, oxygen, columns, asked, record, tank, zone, told)
    nights = []
    for span in _uncut(spans, told.findings)[-MOST_NIGHTS:]:
        inside = known & (file.days >= span[0]) & (file.days <= span[1])
        if inside.sum() < LEAST_READINGS or (span[1] - span[0]) * HOURS < 2.0:
            continue
        nights.append(
            Night(file.days[inside], oxygen[inside], celsius[inside] + KELVIN,
                  pressure[inside], salt)
        )  # fmt: skip
    if not nights:
        raise InputError(
            what=f"no dark time of two hours with {LEAST_READINGS} usable readings is in it",
            where=name,
            remedy="give its hours (--dark 22:00-06:00), or a longer file",
        )
    fits = [fit_night(night) for night in nights]
    return _answer(file, fits, asked, told, by, spans, tank)


def _zone(asked: Asked, record: Record | None) -> tuple[tzinfo | None, str]:
    text = asked.timezone or (record.rack.timezone if record else "")
    if not text:
        return None, "UTC"
    try:
        return ZoneInfo(text), text
    except (ZoneInfoNotFoundError, ValueError):
        raise InputError(
            f"there is no time zone {text!r}", "--timezone", "write one as Etc/GMT-1 or UTC"
        ) from None


def _in_order(file: LoggerFile, told: _Told) -> tuple[LoggerFile, dict[str, Array]]:
    """Readings in order of time, each time once, without impossible values, spikes, flat lines."""
    told.findings += checks.clock_steps(file.days)
    order = np.argsort(file.days, kind="stable")
    days, first = np.unique(file.days[order], return_index=True)
    columns = {role: values[order][first] for role, values in file.columns.items()}
    if len(days) < LEAST_READINGS:
        raise InputError(
            f"{len(days)} readings are too few", file.name, f"give {LEAST_READINGS} or more"
        )
    begin = float(days[0])
    told.findings += checks.gaps(days)
    cleaned, found = checks.cleaned(days, columns)
    told.findings += found
    if file.unread:
        told.findings.append(
            checks.Finding("line", "lines whose time can't be read", file.unread, set_aside=True)
        )
    start = file.start + timedelta(days=begin)
    return (
        LoggerFile(file.name, start, days - begin, cleaned, file.headers, file.notes, file.unread,
                   file.zone),
        cleaned,
    )  # fmt: skip


def _water(
    file: LoggerFile, columns: dict[str, Array], asked: Asked, record: Record | None, told: _Told
) -> tuple[Array, Array, Array]:
    """Oxygen [mg/L], temperature [degC] and pressure [atm] at each reading."""
    pressure = _pressure(file, columns, asked, record, told)
    celsius = _steady(file.days, columns.get("celsius"))
    if asked.temperature_c is not None and celsius is None:
        celsius = np.full(len(file.days), asked.temperature_c)
    if celsius is None:
        raise InputError(
            "the file has no temperature", file.name, "give it: --temperature-c 24"
        )
    at_sea = np.asarray(oxygen_at_saturation(celsius + KELVIN, 1.0))
    here = np.asarray(oxygen_at_saturation(celsius + KELVIN, pressure))
    oxygen, percent = columns.get("oxygen"), columns.get("percent")
    basis = asked.percent_of
    if oxygen is not None and percent is not None:
        basis, found = checks.percent_basis(oxygen, percent, at_sea, here)
        told.findings += found
    elif oxygen is None and percent is not None:
        if not basis:
            apart = 100.0 * (float(np.median(at_sea / here)) - 1.0)
            told.assumed.append(
                "% are taken as of the air here; were they of air at sea level, oxygen would be "
                f"{apart:+.1f} %"
            )
        oxygen = percent / 100.0 * (at_sea if basis == "sea" else here)
        kept, found = checks.cleaned(file.days, {"oxygen": oxygen})
        oxygen, told.findings = kept["oxygen"], told.findings + found
    assert oxygen is not None
    known = np.isfinite(oxygen)
    if known.sum() >= LEAST_READINGS:
        told.findings += checks.jumps(file.days[known], oxygen[known])
    return oxygen, celsius, pressure


def _steady(days: Array, values: Array | None) -> Array | None:
    """A column with its holes bridged; None where it holds nothing."""
    if values is None or not np.isfinite(values).any():
        return None
    known = np.isfinite(values)
    return np.asarray(np.interp(days, days[known], values[known]), dtype=np.float64)


def _pressure(
    file: LoggerFile, columns: dict[str, Array], asked: Asked, record: Record | None, told: _Told
) -> Array:
    if asked.pressure_hpa is not None:
        return np.full(len(file.days), asked.pressure_hpa / ATMOSPHERE)
    measured = _steady(file.days, columns.get("hectopascal"))
    if measured is not None:
        return measured / ATMOSPHERE
    height = asked.altitude_m
    if height is None and record is not None:
        height = record.rack.altitude_m
    if height is None:
        told.assumed.append("air pressure is taken as 1013 hPa; 100 m of height make 1.2 % less")
        height = 0.0
    return np.full(len(file.days), float(pressure_at_altitude(height)))


def _salt(columns: dict[str, Array], asked: Asked, celsius: Array) -> float:
    salt = columns.get("salinity")
    known = salt is not None and bool(np.isfinite(salt).any())
    level = float(np.nanmedian(salt)) if known and salt is not None else asked.salinity_g_kg
    return float(oxygen_salting_out(float(celsius.mean()) + KELVIN, level))


def _dark(
    file: LoggerFile, oxygen: Array, columns: dict[str, Array], asked: Asked,
    record: Record | None, tank: str, zone: tzinfo | None, told: _Told,
) -> tuple[list[Span], str]:  # fmt: skip
    """Spans without light and what told them: hours given, a light column, the lamp, the curve."""
    light = _steady(file.days, columns.get("light"))
    known = np.isfinite(oxygen)
    curve = dark_by_curve(file.days[known], oxygen[known], checks.median_of)
    if asked.dark:
        off, on = _clocks(asked.dark)
        told.dark_hours = (on - off) % 24.0 or 24.0
        return _hours(file, (off, on), zone or UTC), "the hours given"
    if light is not None:
        lit = light > light.min() + 0.02 * (light.max() - light.min())
        if lit.any():
            return _runs(file.days, ~lit), "the light column"
    hours = record.tank_at(tank, file.start).light_hours if record and tank else None
    if hours is not None and 0.0 < hours < 24.0:
        told.dark_hours = 24.0 - hours
        off, on = LIGHT_MIDDLE + hours / 2.0, LIGHT_MIDDLE - hours / 2.0
        spans = _hours(file, (off % 24.0, on % 24.0), zone or UTC)
        for span in spans:
            near = [c[0] for c in curve if abs(c[0] - span[0]) < 0.5]
            if near and span[0] > 0.02 and near[0] > 0.02:
                told.findings += checks.not_on_this_clock(span[0], near[0])
        return spans, "the tank's lamp"
    told.assumed.append("the dark hours are told by the curve alone: while oxygen falls")
    return curve, "the curve"


def _clocks(text: str) -> tuple[float, float]:
    try:
        ends = [time.fromisoformat(part.strip()) for part in text.split("-")]
        off, on = (t.hour + t.minute / 60.0 for t in ends)
    except ValueError:
        raise InputError(
            f"{text!r} are no hours of darkness", "--dark", "write them as 22:00-06:00"
        ) from None
    return off, on


def _hours(file: LoggerFile, hours: tuple[float, float], zone: tzinfo) -> list[Span]:
    """The dark spans of a file by the hours between which the light is off each night."""
    off, on = hours
    length = (on - off) % 24.0 or 24.0
    first = file.start.astimezone(zone).date() - timedelta(days=1)
    spans: list[Span] = []
    for n in range(int(file.days[-1]) + 3):
        midnight = datetime.combine(first + timedelta(days=n), time(), tzinfo=zone)
        at = (midnight + timedelta(hours=off)).astimezone(UTC)
        begin = (at - file.start).total_seconds() / 86400.0
        span = max(begin + SETTLING, 0.0), min(begin + length / HOURS, float(file.days[-1]))
        if span[1] > span[0]:
            spans.append(span)
    return spans


def _runs(days: Array, dark: np.ndarray[Any, np.dtype[np.bool_]]) -> list[Span]:
    spans: list[Span] = []
    edges = np.flatnonzero(np.diff(np.concatenate([[0], dark.astype(np.int8), [0]])))
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        begin = days[start] + (SETTLING if start else 0.0)
        if days[stop - 1] > begin:
            spans.append((float(begin), float(days[stop - 1])))
    return spans


def _uncut(spans: Sequence[Span], findings: Sequence[checks.Finding]) -> list[Span]:
    """Of each span the longest part without a jump."""
    cuts = [(f.first, f.last) for f in findings if f.kind == "jump"]
    kept: list[Span] = []
    for start, stop in spans:
        inside = [(a, b) for a, b in cuts if a is not None and b is not None and start < b <= stop]
        begins = [start, *(b for _, b in inside)]
        ends = [*(a for a, _ in inside), stop]
        kept.append(max(zip(begins, ends, strict=True), key=lambda part: part[1] - part[0]))
    return kept


def _three(fit: NightFit, values: Array, factor: float = 1.0) -> dict[str, float]:
    middle, low, high = fit.range(values)
    return {"middle": middle * factor, "low": low * factor, "high": high * factor}


def _night(file: LoggerFile, fit: NightFit) -> dict[str, Any]:
    night = fit.night
    fitted = fit.middle
    lowest = int(night.oxygen.argmin())
    short = float(fit.shortfall[0])
    return {
        "from": _moment(file, night.days[0]), "to": _moment(file, night.days[-1]),
        "hours": night.hours, "readings": len(night.days),
        "temperature_c": night.warmth - KELVIN, "pressure_hpa": float(night.pressure.mean())
        * ATMOSPHERE, "saturation_mg_l": float(night.saturation.mean()),
        "exchange_1_d": _three(fit, fit.k), "respiration_mg_l_h": _three(fit, fit.use, 1 / HOURS),
        "told_apart": fit.tells_apart,
        "told_well": {
            "net_loss_mg_l_h": _three(fit, fit.fall, 1.0 / HOURS), "shortfall_mg_l": short,
            "ridge": "respiration = net loss + exchange x shortfall / 24",
        },
        "deficit_mg_l": _three(fit, fit.deficit),
        "dusk_mg_l": float(night.oxygen[0]), "dusk_share": float(night.oxygen[0]
        / night.saturation[0]), "lowest_mg_l": float(night.oxygen[lowest]),
        "lowest_at": _moment(file, night.days[lowest]),
        "misfit_mg_l": float(np.std(night.oxygen - fitted)), "autocorrelation": fit.correlation,
        "curve": [
            {"at": _moment(file, d), "seen": float(o), "fitted": float(f), "saturation": float(s)}
            for d, o, f, s in zip(night.days, night.oxygen, fitted, night.saturation, strict=True)
        ],
    }  # fmt: skip


def _moment(file: LoggerFile, day: float) -> str:
    return (file.start + timedelta(days=float(day))).isoformat(timespec="seconds")


def _coming(fits: Sequence[NightFit], asked: Asked, hours: float) -> dict[str, Any]:
    last = fits[-1].night
    share = float(last.oxygen[0] / last.saturation[0])
    coming = Coming(fits, share, hours, float(last.pressure.mean()))
    warmths = asked.tonight_c or tuple(
        dict.fromkeys(round(last.warmth - KELVIN + add, 1) for add in (0.0, 3.0, 6.0))
    )
    nights = []
    for warmth in warmths:
        least = coming.least(warmth + KELVIN)
        nights.append({
            "temperature_c": warmth, "lowest_mg_l": _three(fits[0], least),
            "chance_below": float((least < asked.limit_mg_l).mean()),
        })  # fmt: skip
    low, high = 5.0 + KELVIN, 40.0 + KELVIN
    warm = coming.too_warm(asked.limit_mg_l, low, high) - KELVIN
    ends = np.quantile(warm, (0.025, 0.5, 0.975), method="inverted_cdf")
    return {
        "hours": hours, "dusk_share": share, "limit_mg_l": asked.limit_mg_l, "nights": nights,
        "too_warm_c": {
            key: float(value) if np.isfinite(value) else None
            for key, value in zip(("low", "middle", "high"), ends, strict=True)
        },
        "looked_to_c": high - KELVIN,
    }  # fmt: skip


def _answer(
    file: LoggerFile, fits: list[NightFit], asked: Asked, told: _Told, by: str,
    spans: Sequence[Span], tank: str,
) -> dict[str, Any]:  # fmt: skip
    whole = max(max((b - a) * HOURS for a, b in spans), fits[-1].night.hours)
    hours = told.dark_hours or (max(whole, USUAL_NIGHT) if by == "the curve" else whole)
    if not asked.tonight_c and by == "the curve":
        told.assumed.append(f"the coming night is taken as {hours:.0f} h dark")
    findings = [
        {
            "kind": f.kind, "words": f.words, "readings": f.readings, "set_aside": f.set_aside,
            "first": None if f.first is None else _moment(file, f.first),
            "last": None if f.last is None else _moment(file, f.last),
        }
        for f in told.findings
    ]  # fmt: skip
    answer = {
        "file": file.name, "tank": tank, "readings": len(file.days), "columns": file.headers,
        "clock": file.zone, "from": _moment(file, 0.0), "to": _moment(file, file.days[-1]),
        "dark_by": by, "assumed": told.assumed, "findings": findings,
        "nights": [_night(file, fit) for fit in fits], "tonight": _coming(fits, asked, hours),
    }  # fmt: skip
    return {**answer, "words": in_words(answer), "rows": _rows(answer, tank) if tank else []}


NAMES = uuid.UUID("6f1d3c0e-4f0b-4f7e-8f63-0a51c3b7f2aa")


def _rows(answer: Mapping[str, Any], tank: str) -> list[dict[str, Any]]:
    """Thinned readings that the tank's belief learns from: dusk and the lowest of each night."""
    rows: list[dict[str, Any]] = []
    for night in answer["nights"]:
        for at, value, word in (
            (night["from"], night["dusk_mg_l"], "after dusk"),
            (night["lowest_at"], night["lowest_mg_l"], "lowest of the night"),
        ):
            half = max(STEP_OF_PROBE, 2.0 * night["misfit_mg_l"])
            rows.append({
                "id": str(uuid.uuid5(NAMES, f"{tank} {at} {value:.3f} {half:.3f}")), "at": at,
                "tank": tank, "kind": "reading", "what": "oxygen",
                "low": round(max(value - half, 0.0), 3), "high": round(value + half, 3),
                "unit": "mg/L", "method": METHOD, "note": f"{word}, from {answer['file']}"[:200],
            })  # fmt: skip
    return rows


def note_nights(
    db: Database, rows: Sequence[Mapping[str, Any]], who: Who, now: datetime
) -> dict[str, Any]:
    """Note the thinned readings of an answer; noting them again adds nothing."""
    return log_entries(db, list(rows), who, now)
