"""Giving surplus away or throwing it out: notices by region as leads, metal, and never release.

No notice says what the law is: it names an authority and says check.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from pleuston.base import references
from pleuston.base.errors import InputError
from pleuston.inference.tank import TankBelief
from pleuston.planning.acts import CAUTIONS, short
from pleuston.planning.basis import basis
from pleuston.planning.hours import local_time
from pleuston.planning.moving import copper_flag, flags_of_record, metals_in
from pleuston.planning.planner import span, step, table
from pleuston.records.library import Species, library

FILE = "law_notices.toml"
GRADES = ("read", "abstract", "memory")
NEVER = (
    "Never release any of it, or its water, into ponds, streams, ditches or drains that lead to "
    "them. Strain duckweed out of waste water."
)
COPPER_PLANT = 0.1
"""Copper [mg/g dry] from which plants are neither eaten, fed nor composted: five to ten times
what plants usually hold; guess. Whatever is held, none is called free of metal."""


@dataclass(frozen=True)
class Lead:
    """What a list says of some kinds, where that was read and when (ISO date).

    kinds: species, or a genus that is named as a whole. grade: `read`, `abstract` where another
    reported it, or `memory`.
    """

    kinds: tuple[str, ...]
    says: str
    source: str
    grade: str
    looked_at: str

    def names(self, species: str) -> bool:
        """Whether it names this species or its genus."""
        return any(k in (species, species.split(" ")[0]) for k in self.kinds)

    @property
    def rests_on(self) -> str:
        """What it rests on, in words."""
        item = references.load()[self.source]
        how = {"read": "read", "abstract": "as reported"}.get(self.grade, "from memory, unchecked")
        return f"{item.authors} {item.year}, {how}, looked at {self.looked_at or 'no day'}"


@dataclass(frozen=True)
class Notice:
    """Leads to an authority: the region, what its lists were read to name, what that rests on."""

    name: str
    title: str
    words: tuple[str, ...]
    authority: str
    note: str
    leads: tuple[Lead, ...]
    source: str
    grade: str

    def lead(self, species: str) -> Lead | None:
        """The first lead that names this species or its genus."""
        return next((x for x in self.leads if x.names(species)), None)

    def names(self, species: str) -> bool:
        """Whether a lead names this species or its genus."""
        return self.lead(species) is not None


@cache
def notices() -> Mapping[str, Notice]:
    """The notices by name; unknown sources and gaps are refused."""
    text = (resources.files("pleuston.planning") / FILE).read_text(encoding="utf-8")
    known = references.load()
    made = {}
    for name, row in tomllib.loads(text).items():
        for part in (row, *row["leads"]):
            if part["source"] not in known:
                raise InputError(f"unknown source {part['source']!r}", f"{FILE}: {name}", "add it")
            dated = part["grade"] != "memory"
            if part["grade"] not in GRADES or bool(part["looked_at"]) != dated:
                raise InputError(
                    f"grade {part['grade']!r}, looked at {part['looked_at']!r}", f"{FILE}: {name}",
                    f"use one of {', '.join(GRADES)}, with a day for all but memory",
                )  # fmt: skip
        leads = tuple(
            Lead(tuple(x["kinds"]), x["says"], x["source"], x["grade"], x["looked_at"])
            for x in row["leads"]
        )
        made[name] = Notice(
            name, row["title"], tuple(row["words"]), row["authority"], row["note"], leads,
            row["source"], row["grade"],
        )  # fmt: skip
    return made


def notice_for(region: str) -> Notice:
    """The notice of a region, by any usual name of it; that of other places where none fits.

    >>> notice_for("England").name, notice_for("somewhere").name
    ('uk', 'elsewhere')
    """
    word = " ".join(region.casefold().replace(",", " ").split())
    for one in notices().values():
        if word == one.name or any(f" {w} " in f" {word} " for w in one.words):
            return one
    return notices()["elsewhere"]


def law_said(species: Species, region: str) -> list[str]:
    """What is said of the law: a lead that names the authority and says check; never a fact."""
    notice = notice_for(region)
    found = notice.lead(species.name)
    if found is not None:
        lead = (
            f"CHECK FIRST: {species.name} {found.says} ({notice.title}; {found.rests_on}). "
            f"{notice.note}"
        )
    elif species.check_law:
        lead = f"CHECK FIRST: {species.name} is restricted in some places. {notice.note}"
    else:
        lead = f"No list that names {species.name} is known here, which is no proof. {notice.note}"
    return [lead, f"Ask {notice.authority}. Check with your authority: this program does not know "
            "your law."]  # fmt: skip


def slip_law(species: Species | None, region: str) -> str:
    """What a slip says of the law of a region, in two sentences; a lead, never a fact."""
    notice = notice_for(region)
    place = notice.title if notice.name != "elsewhere" else region
    if notice.name == "elsewhere":
        lead = "this program knows no list of that place"
    elif species is None:
        lead = "the kind is not known here"
    else:
        found = notice.lead(species.name)
        lead = "no list that names it was read, which is no proof" if found is None else (
            f"it {found.says} (looked at {found.looked_at})"
        )  # fmt: skip
    return f"{place}: {lead}. Check with your authority before you pass it on: {notice.authority}."


def give_away(
    belief: TankBelief, species: str, grams: float = 20.0, region: str = "",
    threads: int | None = None,
) -> dict[str, Any]:  # fmt: skip
    """What to mind when something of a tank is given away or thrown out, as an answer.

    grams: drained, of plants. region: as set for the rack unless another is named.
    """
    case = belief.case
    kind = library().find_species(species)
    region = region or case.record.rack.region
    now = case.clock.moment(belief.at)
    flags = flags_of_record(case.record, case.tank.name, now)
    copper = copper_flag(belief, threads)
    flags += [copper] if copper is not None else []
    metals = metals_in(belief, kind.name, grams) if kind.is_plant else {}
    notice = notice_for(region)
    laden = copper is not None or any("copper" in f.text for f in flags)
    dry = _dry(belief, kind.name, grams) if kind.is_plant else 0.0
    if metals and dry > 0.0:
        laden = laden or metals["copper"][2] / dry > COPPER_PLANT
    data: dict[str, Any] = {
        "planner": "give-away", "tank": case.tank.name, "species": kind.name, "grams": grams,
        "at": local_time(belief, belief.at), "model": belief.model, "seed": belief.seed,
        "region": region, "notice": notice.name, "law": law_said(kind, region),
        "metal_suspected": laden, "metals_mg": metals,
        "hold_back": [f.text for f in flags if f.block], "animal": kind.is_animal,
    }  # fmt: skip
    return data | _words(belief, data, kind, notice)


def _read(notice: Notice, species: str) -> list[str]:
    """What the notice, and its lead to a species, rest on."""
    found = notice.lead(species)
    return [notice.source] if found is None else [found.source, notice.source]


def _dry(belief: TankBelief, species: str, grams: float) -> float:
    slot = belief.case.plants.slots.get(species, "rooted")
    return belief.case.maker.tissue(slot, grams)["plant_carbon"] / 378.0


def _words(
    belief: TankBelief, d: dict[str, Any], kind: Species, notice: Notice
) -> dict[str, Any]:
    held = d["hold_back"]
    head = f"{kind.name}: ask the authority before it is passed on"
    if held or notice.names(kind.name):
        rest = "now" if held else "before the authority was asked: a list may name it"
        head = f"Do not give {kind.name} away {rest}"
    metal = "" if kind.is_animal else (
        "METAL SUSPECTED: do not eat it, feed it or compost it. Dry, bag, household waste."
        if d["metal_suspected"] else
        "Metal is not ruled out: no plant of a tank is food for people, stock or salad compost."
    )  # fmt: skip
    said = [d["law"][0], d["law"][1], *([metal] if metal else [])]
    binned = step(
        "No longer wanted: back to the giver or on to another keeper", "Ill: ask a vet."
    ) if kind.is_animal else step(
        "Throwing it out: dry it, or freeze it for two days, then household waste",
        "Larger amounts: ask the local waste authority.",
    )  # fmt: skip
    giving = step("Find the reason first", *held) if held else step(
        "Giving it away: print the slip of this tank and let it go along",
        "Paper, give-away slip. Rinse, look for snails and eggs, two weeks in a tub.",
    )  # fmt: skip
    rows = [[m.capitalize(), span(v[0], v[2], "mg")] for m, v in d["metals_mg"].items()]
    return {
        "headline": head, "said": [*said, NEVER, basis(belief)],
        "steps": [step(f"Check with {notice.authority}"), giving, binned],
        "tables": [
            table(f"Metal in {short(d['grams'])} g drained, by the balance", ["", "Range"], rows)
        ],
        "cautions": [CAUTIONS["thin"]],
        "sources": list(dict.fromkeys([*_read(notice, kind.name), "common_practice"])),
    }  # fmt: skip
