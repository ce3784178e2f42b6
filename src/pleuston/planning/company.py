"""How many of a kind want company, and the least room they are given: common practice.

No source: keepers' and shops' advice, which differs; it is told as what it is. A length rule is
not among it: mass goes with the cube of length.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Company:
    """The least number of a species that live well together, and net litres for such a group.

    each: further litres for each beyond the group; most: most that keep peace in a small tank.
    """

    group: int
    litres: float
    each: float
    most: int | None = None
    note: str = ""


SMALL_SHOAL = Company(8, 25.0, 2.0)
SHOAL = Company(6, 45.0, 4.0)
PAIRS = Company(1, 30.0, 20.0, 2)
COMPANY: Mapping[str, Company] = {
    "Neocaridina davidi": Company(8, 10.0, 0.2), "Caridina logemanni": Company(8, 12.0, 0.3),
    "Caridina cantonensis": Company(8, 12.0, 0.3), "Caridina multidentata": Company(4, 40.0, 5.0),
    "Planorbella duryi": Company(1, 5.0, 1.0), "Planorbarius corneus": Company(1, 5.0, 1.0),
    "Physella acuta": Company(1, 1.0, 0.1), "Pomacea diffusa": Company(1, 40.0, 20.0),
    "Neritina natalensis": Company(1, 15.0, 8.0, None, "starves where little algae grow"),
    "Clithon corona": Company(1, 15.0, 8.0, None, "starves where little algae grow"),
    "Melanoides tuberculata": Company(1, 10.0, 0.5),
    "Betta splendens": Company(1, 15.0, 30.0, 1, "males fight"),
    "Poecilia reticulata": Company(5, 40.0, 5.0, None, "breeds: plan for three times as many"),
    "Poecilia wingei": Company(5, 30.0, 3.0, None, "breeds: plan for three times as many"),
    "Heterandria formosa": Company(6, 15.0, 1.5, None, "breeds: plan for twice as many"),
    "Tanichthys albonubes": SHOAL, "Danio rerio": Company(8, 60.0, 5.0, None, "swims far"),
    "Danio margaritatus": SMALL_SHOAL, "Hyphessobrycon amandae": SMALL_SHOAL,
    "Paracheirodon innesi": Company(8, 50.0, 4.0), "Paracheirodon axelrodi": Company(8, 54.0, 4.0),
    "Boraras brigittae": Company(8, 15.0, 1.5), "Trigonostigma heteromorpha": Company(8, 60.0, 5.0),
    "Corydoras pygmaeus": Company(8, 30.0, 3.0), "Corydoras paleatus": Company(6, 100.0, 15.0),
    "Corydoras aeneus": Company(6, 100.0, 15.0),
    "Otocinclus vittatus": Company(5, 45.0, 6.0, None, "starves in clean or new tanks"),
    "Oryzias latipes": Company(6, 40.0, 4.0), "Trichopsis pumila": Company(2, 20.0, 8.0),
    "Trichogaster chuna": Company(2, 45.0, 20.0), "Trichogaster lalius": Company(1, 54.0, 30.0, 2),
    "Macropodus opercularis": PAIRS,
}  # fmt: skip
BY_GROUP: Mapping[str, Company] = {
    "fish": SHOAL, "shrimp": Company(8, 12.0, 0.5), "snails": Company(1, 10.0, 3.0),
}  # fmt: skip


def company_of(species: str, group: str) -> Company:
    """What is practice for a species, else for its kind."""
    return COMPANY.get(species, BY_GROUP[group])


def fit_by_room(company: Company, litres: float) -> int:
    """How many have room: none below the litres of a group, then one more for each share.

    >>> fit_by_room(Company(8, 25.0, 2.0), 31.0), fit_by_room(Company(8, 25.0, 2.0), 20.0)
    (11, 0)
    """
    if litres < company.litres:
        return 0
    number = company.group + int(round((litres - company.litres) / company.each, 6))
    return number if company.most is None else min(number, company.most)
