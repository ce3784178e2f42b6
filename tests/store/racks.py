"""A small sound rack as text, to be spoilt one cell at a time."""

from __future__ import annotations

from pathlib import Path

from pleuston.store.exchange import ImportRefused, Problem, read_rack

ID = "00000000-0000-4000-8000-0000000000{:02d}"

FILES = {
    "rack.csv": """key,value
name,Window shelf
timezone,Europe/Paris
latitude_deg,48.0
altitude_m,120
room_c,21.5
room_humidity_pct,45
region,
""",
    "waters.csv": """water,kind,calcium_mg_l,magnesium_mg_l,sodium_mg_l,potassium_mg_l,\
bicarbonate_mg_l,sulfate_mg_l,chloride_mg_l,nitrate_mg_l,phosphate_mg_l,iron_mg_l,copper_ug_l,zinc_ug_l,ph,kh_dh,\
gh_dh,ec25_us_cm,from,note
kitchen,tap,48.0,6.0,12,2.1,150,22,18,9.0,,,25,40,7.7,6.9,8.1,370,2026-01-01,after a minute
kitchen,tap,52.0,6.0,12,2.1,160,22,18,11.0,,,25,40,7.7,7.3,8.7,385,2026-03-01,
""",
    "blends.csv": """blend,part,share
half rain,kitchen,0.50
half rain,rain,0.50
""",
    "feeds.csv": """feed,protein_pct,phosphorus_pct,potassium_pct,copper_mg_kg,moisture_pct,note
green flake,42,1.1,0.9,14,7.5,home mix
""",
    "soils.csv": """soil,organic_pct,nitrogen_pct,phosphorus_pct,copper_mg_kg,note
garden 2025,6.0,0.21,0.07,33,
""",
    "tanks.csv": """tank,net_l,surface_m2,lid,heater_c,light_hours,light_ppfd,soil,soil_mm,cap_mm,\
soil_since,started,flow,top_up_water,cover_target_pct,note
Fern,30.0,0.120,partial,24.0,9,80,garden 2025,25,30,2026-01-02,2026-01-02,still,half rain,50,
Moss,12.5,0.060,open,,8.5,60,garden soil,20,25,2026-01-02,2026-01-02,gentle,kitchen,40,north end
""",
    "entries.csv": f"""id,at,tank,kind,what,low,high,unit,by,method,note
{ID.format(1)},2026-01-02T10:00+01:00,Fern,stock_in,Neocaridina davidi,10,10,,kim,0.2 g,
{ID.format(2)},2026-01-02T10:00+01:00,Fern,plant_in,Lemna minor,20.0,20.0,g,kim,,
{ID.format(3)},2026-01-05T07:30,Fern,reading,nitrate_ion,10,20,mg/L,kim,chart,
{ID.format(4)},2026-01-05T07:31,Fern,reading,pen_ppm,205,215,ppm,kim,factor 0.5,
{ID.format(5)},2026-01-06T08:00,Fern,feed,green flake,0.10,0.15,g,kim,,
{ID.format(6)},2026-01-07T08:00,Fern,harvest,Lemna minor,35,35,g,kim,drained 2 min,
{ID.format(7)},2026-01-07T08:05,Fern,top_up,half rain,1.5,1.5,L,kim,,
{ID.format(8)},2026-01-08T08:00,Fern,dose,potassium sulfate,150,150,mg,kim,,
{ID.format(9)},2026-01-08T08:01,Moss,setting,lid,,,,kim,,tight
{ID.format(10)},2026-01-09T08:00,,reading,room_temperature,20,21,C,kim,,
{ID.format(11)},2026-01-09T09:00,Fern,seen,gasping,,,,kim,,"at the surface, all of them"
{ID.format(12)},2026-01-10T09:00,Fern,reading,ph,7.0,7.4,,kim,chart,
""",
}


def make(folder: Path, **changed: str | bytes) -> Path:
    """Write the rack; `tanks="..."` replaces the text of `tanks.csv`."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in FILES.items():
        given = changed.get(name.removesuffix(".csv"), text)
        data = given if isinstance(given, bytes) else given.encode("utf-8")
        (folder / name).write_bytes(data)
    return folder


def with_entry(row: str) -> str:
    """The entries and one more row, its id left empty: `at,tank,kind,what,low,high,unit,...`."""
    cells = row.count(",") if '"' not in row else 9
    return FILES["entries.csv"] + "," + row + "," * (9 - cells) + "\n"


def problems(folder: Path) -> tuple[Problem, ...]:
    """Everything the import of a folder complains of."""
    try:
        read_rack(folder)
    except ImportRefused as refused:
        return refused.problems
    return ()
