"""Sheets for paper, from a rack and a moment: one function for PDF and HTML."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any, Literal
from urllib.parse import urlsplit

from pleuston.base.errors import InputError
from pleuston.planning.incidents import incident, incidents
from pleuston.records.record import Entry, Record, Water
from pleuston.reports.paper.facts import Facts
from pleuston.reports.paper.holiday import holiday_sheet
from pleuston.reports.paper.incident_cards import incident_cards
from pleuston.reports.paper.labels import labels, log_address
from pleuston.reports.paper.render import as_html, as_pdf, style
from pleuston.reports.paper.round_sheet import round_sheet
from pleuston.reports.paper.sheet import PAPERS, Sheet
from pleuston.reports.paper.slips import slips
from pleuston.reports.paper.tank_card import tank_card
from pleuston.reports.paper.vet import vet_sheet
from pleuston.reports.paper.water_record import water_record
from pleuston.services.racks import counts, open_rack, parse_moment, plants
from pleuston.store.session import Database
from pleuston.store.whole import record_of

KINDS: Mapping[str, str] = {
    "round": "this week's round: acts, tick boxes, room for marks, reasons",
    "tank-card": "a tank's facts, animals, plants, limits, code to log",
    "incidents": "what to do in the first hour, one card a page",
    "water-record": "the source waters as known, and a blank record",
    "holiday": "for the neighbour: food, what not to do, when to ring",
    "slip": "goes with what is given away",
    "labels": "codes that open a tank's log page, 3 by 8 on A4",
    "vet": "a tank's last four weeks for a vet",
}  # fmt: skip
NEEDS_TANK = ("slip", "vet")
WITH_CODES = ("labels", "tank-card")
LOOPBACK = ("127.0.0.1", "localhost", "::1")
WITHOUT_TANK = ("round", "water-record")
LOCAL = "http://127.0.0.1:8000"
Form = Literal["pdf", "html"]
Rack = Path | str | Database


@dataclass(frozen=True)
class Wishes:
    """What else may be asked of a sheet."""

    base_url: str = LOCAL
    days: int = 14
    """Length of a holiday."""
    skip: int = 0
    """Places already used up on the first sheet of labels."""
    incident: str = ""
    """One incident card alone."""
    seed: int = 1
    answer: Mapping[str, Any] | None = None
    """A round that was answered already, as the pages keep it."""
    advice: Sequence[str] = ()
    """What was planned to be done in the tanks before a holiday."""
    minutes: float | None = None
    """The keeper's for the round; the rack's own, or the usual ones, where None is given."""
    region: str = ""
    """Where things are given away; the rack's own where none is given."""
    stylesheet: str = ""
    """Address of the style for a page served over the network."""


def sheet(
    source: Rack, kind: str, tank: str, now: datetime | str, form: Form = "pdf",
    wishes: Wishes | None = None,
) -> bytes:  # fmt: skip
    """A sheet as PDF or HTML; nothing recorded after now is used.

    source: a folder, a file, an address, or an open database. The round of an open database is
    put together from the answers kept in it; of others it is answered now.
    """
    wishes = wishes or Wishes()
    made = sheet_data(source, kind, tank, now, wishes)
    if form == "pdf":
        return as_pdf(made)
    if form == "html":
        return as_html(made, wishes.stylesheet)
    raise InputError(f"{form!r} is no form of a sheet", "sheet", "Ask for pdf or html")


def paper_style() -> str:
    """The style of sheets served as pages."""
    return style()


def form_of(file: Path) -> Form:
    """The form that a file's name asks for.

    >>> form_of(Path("round.PDF")), form_of(Path("card.html"))
    ('pdf', 'html')
    """
    forms: dict[str, Form] = {".pdf": "pdf", ".html": "html", ".htm": "html"}
    found = forms.get(file.suffix.lower())
    if found is None:
        raise InputError(
            f"{file.suffix or 'no ending'!r} is no form of a sheet", str(file),
            "End the file's name in .pdf or .html",
        )  # fmt: skip
    return found


def write_sheet(
    source: Rack, kind: str, tank: str, now: datetime | str, file: Path,
    wishes: Wishes | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Write a sheet to a file, its form by the file's ending; its folder is made if missing."""
    form = form_of(file)
    content = sheet(source, kind, tank, now, form, wishes)
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(content)
    remark = _remark(kind, (wishes or Wishes()).base_url)
    return {"written": str(file), "sheet": kind, "form": form, "bytes": len(content),
            **({"remark": remark} if remark else {})}  # fmt: skip


def _remark(kind: str, base_url: str) -> str:
    """What to mind about the codes of a sheet; empty where there is nothing."""
    if kind not in WITH_CODES or urlsplit(base_url).hostname not in LOOPBACK:
        return ""
    return "The codes open on this machine alone; give --base-url with the address that phones use."


def sheet_data(
    source: Rack, kind: str, tank: str, now: datetime | str, wishes: Wishes
) -> Sheet:
    """What a sheet says, before it is set."""
    _check(kind, tank)
    record = _opened(source)
    moment = parse_moment(now, record) if isinstance(now, str) else now
    if moment.tzinfo is None:
        raise InputError("the time has no time zone", "sheet", "Give an aware time")
    if tank:
        record.tank(tank)
    known = record.until(moment)
    if tank and not any(t.name == tank for t in known.tanks):
        raise InputError(
            "the tank was not set up yet at that time", f"tank {tank}", "Give a later --at"
        )
    return _MAKERS[kind](source, known, tank, moment, wishes)


def _opened(source: Rack) -> Record:
    if not isinstance(source, Database):
        return open_rack(source)
    with source.read() as connection:
        return record_of(connection)


def _check(kind: str, tank: str) -> None:
    if kind not in PAPERS:
        raise InputError(
            f"there is no sheet named {kind!r}", "sheet", "Known are " + ", ".join(KINDS)
        )
    if kind in NEEDS_TANK and not tank:
        raise InputError("this sheet is made for one tank", f"sheet {kind}", "Name the tank")
    if kind in WITHOUT_TANK and tank:
        raise InputError(
            "this sheet is made for the whole rack", f"sheet {kind}", "Leave the tank out"
        )


def _facts(record: Record, tank: str, moment: datetime, base_url: str) -> Facts:
    own = [e for e in record.entries_of(tank, until=moment) if e.tank == tank]
    return Facts(
        record, record.tank_at(tank, moment), moment, counts(own),
        [p["species"] for p in plants(own, "floating")],
        [p["species"] for p in plants(own, "rooted")], log_address(base_url, tank),
    )  # fmt: skip


def _all_facts(record: Record, tank: str, moment: datetime, base_url: str) -> list[Facts]:
    names = [tank] if tank else [t.name for t in record.tanks]
    if not names:
        raise InputError("the rack holds no tanks yet", "sheet", "Register a tank first")
    slim = _by_tank(record, names)
    return [_facts(slim[name], name, moment, base_url) for name in names]


def _by_tank(record: Record, names: Sequence[str]) -> dict[str, Record]:
    """The record of each tank without the entries of others: quick for racks of hundreds."""
    own: dict[str, list[Entry]] = {name: [] for name in names}
    for entry in record.entries:
        if not entry.tank:
            for listed in own.values():
                listed.append(entry)
        elif entry.tank in own:
            own[entry.tank].append(entry)
    return {name: replace(record, entries=tuple(listed)) for name, listed in own.items()}


def _newest_waters(record: Record) -> list[Water]:
    names = dict.fromkeys(water.name for water in record.waters)
    return [record.water_rows(name)[-1] for name in names]


def _round(source: Any, record: Record, _: str, moment: datetime, wishes: Wishes) -> Sheet:
    answer = wishes.answer
    if answer is None and isinstance(source, Database):
        from pleuston.services.kept import kept_round

        answer = kept_round(source, moment, minutes=wishes.minutes)
    if answer is None:
        from pleuston.services.answers import round_answer

        at = moment.isoformat()
        answer = round_answer(source, at, wishes.seed, minutes=wishes.minutes)
    order = [t.name for t in record.tanks]
    return round_sheet(answer, order, record.rack.name, record.local(moment))


def _incidents(_: Any, record: Record, tank: str, moment: datetime, wishes: Wishes) -> Sheet:
    cards = [incident(wishes.incident)] if wishes.incident else list(incidents())
    facts = _facts(record, tank, moment, wishes.base_url) if tank else None
    return incident_cards(cards, record.local(moment), facts)


def _tank_card(_: Any, record: Record, tank: str, moment: datetime, wishes: Wishes) -> Sheet:
    return tank_card(_all_facts(record, tank, moment, wishes.base_url))


def _water(_: Any, record: Record, __: str, moment: datetime, ___: Wishes) -> Sheet:
    return water_record(record, _newest_waters(record), record.local(moment))


def _holiday(_: Any, record: Record, tank: str, moment: datetime, wishes: Wishes) -> Sheet:
    facts = _all_facts(record, tank, moment, wishes.base_url)
    return holiday_sheet(facts, record.local(moment), wishes.days, wishes.advice)


def _slip(_: Any, record: Record, tank: str, moment: datetime, wishes: Wishes) -> Sheet:
    facts = _facts(record, tank, moment, wishes.base_url)
    return slips(facts, _newest_waters(record), wishes.region)


def _labels(_: Any, record: Record, tank: str, moment: datetime, wishes: Wishes) -> Sheet:
    facts = _all_facts(record, tank, moment, wishes.base_url)
    return labels(facts, record.local(moment), record.rack.name, wishes.skip)


def _vet(_: Any, record: Record, tank: str, moment: datetime, wishes: Wishes) -> Sheet:
    return vet_sheet(_facts(record, tank, moment, wishes.base_url))


_MAKERS: Mapping[str, Callable[[Any, Record, str, datetime, Wishes], Sheet]] = {
    "round": _round, "incidents": _incidents, "tank-card": _tank_card, "water-record": _water,
    "holiday": _holiday, "slip": _slip, "labels": _labels, "vet": _vet,
}  # fmt: skip
