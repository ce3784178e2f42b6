"""The planners by name, what each asks for, and the kinds of answers that they have.

Loads nothing that computes.
"""

from __future__ import annotations

from collections.abc import Mapping

from pleuston.base.errors import UnknownNameError
from pleuston.planning.planner import Field, Planner
from pleuston.records.kinds import LIDS
from pleuston.records.near import near_names
from pleuston.services.keeping_kinds import KEEPING

KIND = "plan"
SALTS = (
    "calcium sulfate dihydrate", "calcium chloride dihydrate", "magnesium sulfate heptahydrate",
    "sodium bicarbonate", "potassium bicarbonate",
)  # fmt: skip
DOSES = (
    "potassium sulfate", "potassium nitrate", "monopotassium phosphate", "chelated iron", *SALTS,
)  # fmt: skip
DILUTED = ("ammonium", "nitrite", "nitrate", "phosphate", "copper", "chloride", "sodium",
           "potassium", "ec25", "kh", "gh")  # fmt: skip
RAISED = ("potassium", "iron", "nitrate", "phosphate", "calcium", "magnesium", "kh", "gh")
FROM_BELIEF = "left empty: as last worked out"
WATER_FIELDS = (
    Field("ec25", "Conductivity of the tank", unit="uS/cm", hint=FROM_BELIEF, high=20000.0),
    Field("kh", "Carbonate hardness (KH) of the tank", unit="dH", hint=FROM_BELIEF, high=60.0),
    Field("gh", "General hardness (GH) of the tank", unit="dH", hint=FROM_BELIEF, high=90.0),
    Field("ph", "pH of the tank", hint=FROM_BELIEF, low=3.5, high=10.5),
    Field("temperature", "Temperature of the tank", unit="C", hint=FROM_BELIEF, high=45.0),
    Field("ammonium", "Total ammonia of the tank, as N", unit="mg/L", hint=FROM_BELIEF, high=100.0),
)
PURITY = Field("purity", "Purity of the powder", unit="%", default="100", low=1.0, high=100.0)

START_UP = Planner(
    "start-up", "Start a tank", "ammonia, nitrite, planting, and the proof before animals",
    (
        Field("length", "Inside length", unit="cm", low=5.0, high=500.0, required=True),
        Field("width", "Inside width", unit="cm", low=5.0, high=500.0, required=True),
        Field("depth", "Depth from the pane to the mark", unit="cm", low=5.0, high=200.0,
              required=True),
        Field("soil_depth", "Soil", unit="mm", default="25", high=200.0),
        Field("cap_depth", "Cap", unit="mm", default="25", high=200.0),
        Field("soil", "Which soil", "choice", hint="a middling soil", source="soils"),
        Field("water", "Filled and topped up with", "choice", hint="the first of the rack",
              source="waters"),
        Field("heater", "Heater", unit="C", hint="left empty: unheated", low=10.0, high=35.0),
        Field("lid", "Lid", "choice", default="partial", choices=LIDS),
        Field("light_hours", "Light a day", unit="h", default="8", high=24.0),
        Field("light", "Light at the surface", unit="umol/m2/s", default="60", high=2000.0),
        Field("planted", "Bottom planted", unit="%", default="60", high=100.0),
        Field("floater", "Floating plant", "choice", default="Lemna minor", source="floaters"),
        Field("cover", "Surface covered at first", unit="%", default="25", high=95.0),
        Field("ammonia_step", "First step of the ammonia kit, as N", unit="mg/L", default="0.2",
              low=0.01, high=2.0),
        Field("nitrite_step", "First step of the nitrite kit, as N", unit="mg/L", default="0.05",
              low=0.005, high=2.0),
        Field("converts", "A filtered tank is converted", "yes"),
    ),
    tank="may", with_tank=("ammonia_step", "nitrite_step"), simulates=True,
)  # fmt: skip
STOCKING = Planner(
    "stocking", "Stock a tank", "how many fit, what binds, what would make room",
    (
        Field("wish", "Animals wished for", "animals",
              hint="species and number, such as Poecilia wingei 6/Neocaridina davidi 10",
              required=True),
    ),
    tank="must", simulates=True,
)  # fmt: skip
MIX = Planner(
    "mix", "Mix a top-up water", "reach conductivity and hardness from the waters at hand",
    (
        Field("waters", "Waters, at most four", "many", source="waters"),
        Field("salts", "Minerals that may go in", "many", choices=SALTS),
        Field("to_ec25", "Conductivity wanted", unit="uS/cm", high=5000.0),
        Field("to_gh", "General hardness (GH) wanted", unit="dH", high=60.0),
        Field("to_kh", "Carbonate hardness (KH) wanted", unit="dH", high=60.0),
        Field("amount", "Mixed at a time", unit="L", default="10", low=0.1, high=1000.0),
        Field("litres", "Net litres of the tank", unit="L", hint="left empty: as set up", low=0.5,
              high=20000.0),
        Field("poured", "Top-up a week", unit="L", hint="left empty: as the record tells",
              high=5000.0),
    ),
    tank="may",
)  # fmt: skip
CORRECT = Planner(
    "dilute", "Correct the water", "dilute something safely, in stages; emergencies at once",
    (
        Field("quantity", "What is to come down", "choice", default="nitrate", choices=DILUTED),
        Field("now", "It stands at", hint=f"mg/L, nitrogen as N; {FROM_BELIEF}", high=1e5),
        Field("limit", "It is to come to", hint="left empty: the animals' limit to act", high=1e5),
        Field("water", "With which water", "choice", hint="the water it is topped up with",
              source="waters"),
        Field("gasping", "Animals gasp at the surface", "yes"),
        *WATER_FIELDS,
        Field("water_temperature", "Temperature of the new water", unit="C",
              hint="left empty: matched to the tank", high=45.0),
        Field("water_ph", "pH of the new water", hint="left empty: as it stands in room air",
              low=3.5, high=10.5),
    ),
    tank="must",
)  # fmt: skip
DOSE = Planner(
    "dose", "Dose a mineral", "milligrams by net litres, purity and crystal water, in daily parts",
    (
        Field("substance", "Substance", "choice", default="potassium sulfate", choices=DOSES),
        Field("quantity", "What it is to raise", "choice", default="potassium", choices=RAISED),
        Field("rise", "By how much", hint="mg/L, or degrees of hardness; nitrogen as N",
              high=500.0, required=True),
        PURITY, *WATER_FIELDS,
    ),
    tank="must",
)  # fmt: skip
ADD_BACK = Planner(
    "add-back", "Give potassium or iron back", "a trial with an undosed half, and what it showed",
    (
        Field("element", "Element", "choice", default="potassium", choices=("potassium", "iron")),
        Field("rise", "Given back", unit="mg/L", hint="left empty: 5 of potassium, 0.1 of iron",
              low=0.01, high=50.0),
        Field("days", "Days", default="12", low=10.0, high=14.0),
        Field("pairs", "Pairs weighed", default="4", low=2.0, high=40.0),
        PURITY,
        Field("weighings", "Weighings, once they are in", "text",
              hint="g: dosed before, dosed after, undosed before, undosed after; pairs between /"),
    ),
    tank="must", simulates=True,
)  # fmt: skip
PLANNERS: Mapping[str, Planner] = {
    p.name: p for p in (START_UP, STOCKING, MIX, CORRECT, DOSE, ADD_BACK, *KEEPING)
}


def planner_named(name: str) -> Planner:
    """A planner by its name; an unknown one is refused."""
    if name not in PLANNERS:
        raise UnknownNameError(
            f"there is no planner named {name!r}", "plan", near_names(name, PLANNERS)
        )
    return PLANNERS[name]


def is_plan(kind: str) -> bool:
    """Whether a kind of answer is a planner's."""
    return kind.startswith(f"{KIND}:")


def plan_kind(planner: Planner, given: Mapping[str, str]) -> str:
    """The kind of answer that a planner has for what was typed.

    >>> plan_kind(ADD_BACK, {"element": "iron", "days": "12"})
    'plan:add-back:element=iron'
    """
    return f"{KIND}:{planner.name}:{planner.text(given)}"


def plan_of_kind(kind: str) -> tuple[Planner, dict[str, str]]:
    """The planner of a kind of answer, and what was typed."""
    _, name, text = [*kind.split(":", 2), "", ""][:3]
    planner = planner_named(name)
    return planner, planner.given(text)


def checked_plan_kind(kind: str) -> str:
    """A kind in its one spelling; refuses what can't be read."""
    return plan_kind(*plan_of_kind(kind))
