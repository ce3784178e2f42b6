"""Planners of keeping: holiday, feed, soil, moving, tracing, giving away; what each asks for.

Loads nothing that computes.
"""

from __future__ import annotations

from pleuston.planning.planner import Field, Planner

AWAY = Planner(
    "away", "Go on holiday", "how far to thin, how high to fill, what a neighbour does",
    (
        Field("days", "Days away", default="14", low=1.0, high=56.0),
        Field("neighbour", "A neighbour feeds and tops up weekly", "yes"),
        Field("most_cover", "Cover not to be passed", unit="%", default="50", low=11.0,
              high=100.0),
    ),
    tank="must", simulates=True,
)  # fmt: skip
FEED_BUDGET = Planner(
    "feed-budget", "Set the feed", "food a week that the tank carries, beside what animals need",
    (
        Field("animals_g", "Mass of all animals", unit="g", hint="left empty: by the record",
              low=0.01, high=5000.0),
        Field("most", "Food a day at most, of their mass", unit="%", default="2", low=0.5,
              high=5.0),
    ),
    tank="must", simulates=True,
)  # fmt: skip
SOIL_AGE = Planner(
    "soil-age", "Judge the soil", "worn out or not, when, and what a renewal would free",
    (
        Field("part", "Part of the bed renewed", unit="%", default="25", low=1.0, high=100.0),
        Field("soil", "With which soil", "choice", hint="the same as now", source="soils"),
    ),
    tank="must", simulates=True,
)  # fmt: skip
MOVE_PLANTS = Planner(
    "move-plants", "Move plants", "into another tank: what rides along, how long to wait",
    (
        Field("to", "Into which tank", "choice", source="tanks", required=True),
        Field("species", "Which plant", "choice", default="Lemna minor", source="plants"),
        Field("grams", "Drained", unit="g", default="10", low=0.1, high=1e4),
    ),
    tank="must", simulates=True,
)  # fmt: skip
TRACE = Planner(
    "trace", "Trace what went where", "which tanks got anything from this one since a day",
    (
        Field("since", "Since", "text", hint="a day such as 2026-03-01", required=True),
    ),
    tank="must",
)  # fmt: skip
GIVE_AWAY = Planner(
    "give-away", "Give away or throw out", "whom to ask, metal in it, where it must never go",
    (
        Field("species", "What", "choice", default="Lemna minor", source="living"),
        Field("grams", "Drained, of plants", unit="g", default="20", low=0.1, high=1e5),
        Field("region", "Region", "text", hint="left empty: as set for the rack"),
    ),
    tank="must", simulates=True,
)  # fmt: skip
KEEPING = (AWAY, FEED_BUDGET, SOIL_AGE, MOVE_PLANTS, TRACE, GIVE_AWAY)
