"""The record of source waters: what is known of each, and room to write what isn't."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from pleuston.records.record import Record, Water
from pleuston.reports.paper.sheet import Sheet, sheet_of
from pleuston.reports.paper.words import day_of, number, short_name

ROWS = (
    ("ec25_us_cm", "Conductivity, 25 °C", "µS/cm"), ("ph", "pH", ""), ("kh_dh", "KH", "°dH"),
    ("gh_dh", "GH", "°dH"), ("calcium_mg_l", "Calcium", "mg/L"),
    ("magnesium_mg_l", "Magnesium", "mg/L"), ("sodium_mg_l", "Sodium", "mg/L"),
    ("potassium_mg_l", "Potassium", "mg/L"), ("bicarbonate_mg_l", "Bicarbonate", "mg/L"),
    ("chloride_mg_l", "Chloride", "mg/L"), ("sulfate_mg_l", "Sulfate", "mg/L"),
    ("nitrate_mg_l", "Nitrate, as NO₃⁻", "mg/L"), ("phosphate_mg_l", "Phosphate, as PO₄³⁻", "mg/L"),
    ("iron_mg_l", "Iron", "mg/L"), ("copper_ug_l", "Copper", "µg/L"), ("zinc_ug_l", "Zinc", "µg/L"),
)  # fmt: skip
COLUMNS = 4
KINDS = {"tap": "tap", "rain": "rain", "ro": "demineralised", "well": "well", "bottle": "bottled"}
HOW = (
    "First draw: the first glass in the morning, cold tap. Flushed: the same tap after three "
    "minutes of running. They are two waters: copper and lead gather overnight.",
    "Rain: let the first hour of rain run off; note the roof (copper, zinc and felt each give "
    "something) and the butt's age. Demineralised: conductivity at every batch.",
    "Supplier's sheet: note its date and whether nitrate is given as NO₃ or as N, hardness as "
    "CaCO₃ or in degrees. Leave empty what isn't known; never write 0 for it.",
    "Again every quarter, and after any work on the pipes. A kit that shows no copper does not "
    "clear a water for shrimp and snails: ask a water laboratory.",
)


def water_record(record: Record, waters: Sequence[Water], made: datetime) -> Sheet:
    """The newest analyses on filled pages, and one blank page at the end."""
    pages = [_page(record, waters[i : i + COLUMNS]) for i in range(0, len(waters), COLUMNS)]
    data = {
        "rack": short_name(record.rack.name or "Rack"),
        "day": day_of(made),
        "rows": [{"what": label, "unit": unit} for _, label, unit in ROWS],
        "pages": pages,
        "blank": ["First draw", "Flushed", "Rain", ""],
        "how": list(HOW),
    }
    return sheet_of("water-record", f"Source waters of {data['rack']}", made, data)


def _page(record: Record, waters: Sequence[Water]) -> dict[str, Any]:
    return {
        "columns": [
            {
                "name": short_name(w.name),
                "kind": KINDS.get(w.kind, w.kind),
                "since": "" if w.valid_from is None else day_of(record.local(w.valid_from))[4:],
                "note": w.note,
                "values": [_value(getattr(w, field)) for field, _, _ in ROWS],
            }
            for w in waters
        ]
    }


def _value(value: float | None) -> str:
    return "" if value is None else number(float(value))
