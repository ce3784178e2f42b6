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
NEVER = (
    "Never release any of it, or its water, into ponds, streams, ditches or drains that lead to "
    "them. Strain duckweed out of waste water."
)
COPPER_PLANT = 0.1
"""Copper [mg/g dry] from which plants are neither eaten, fed nor composted: five to ten times
what plants usually hold; guess. Whatever is held, none is called free of metal."""


@dataclass(frozen=True)
class Notice:
    """A lead to an authority: the region, what kinds a list may name, and what it rests on."""

    name: str
    title: str
    words: tuple[str, ...]
    authority: str
    note: str
    kinds: tuple[str, ...]
    source: str
    grade: str

    def names(self, species: str) -> bool:
        """Whether the lead names this species or its genus."""
        return any(species == k or species.split(" ")[0] == k for k in self.kinds)


@cache
def notices() -> Mapping[str, Notice]:
    """The notices by name; unknown sources and gaps are refused."""
    text = (resources.files("pleuston.planning") / FILE).read_text(encoding="utf-8")
    known = references.load()
    made = {}
    for name, row in tomllib.loads(text).items():
        if row["source"] not in known:
            raise InputError(f"unknown source {row['source']!r}", f"{FILE}: {name}", "add it")
        made[name] = Notice(
            name, row["title"], tuple(row["words"]), row["authority"], row["note"],
            tuple(row["kinds"]), row["source"], row["grade"],
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
    where = notice.title if region and notice.name != "elsewhere" else "where you live"
    if notice.names(species.name):
        lead = (
            f"CHECK FIRST: {species.name} or its genus was once read in lists for {where}. "
            f"{notice.note}"
        )
    elif species.check_law:
        lead = f"CHECK FIRST: {species.name} is restricted in some places. {notice.note}"
    else:
        lead = f"No list that names {species.name} is known here, which is no proof. {notice.note}"
    return [lead, f"Ask {notice.authority}: this program does not know your law."]


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
        "sources": list(dict.fromkeys([notice.source, "common_practice"])),
    }  # fmt: skip
