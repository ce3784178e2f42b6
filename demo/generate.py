"""Write the demo rack: `python demo/generate.py`, or with `--check` compare it only."""

from __future__ import annotations

import argparse
import csv
import io
import sys
import tempfile
from collections.abc import Mapping, Sequence
from datetime import timedelta
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

from demo.rounds import START, Shelf, twenty_weeks  # noqa: E402
from demo.slips import Slip, slip_up  # noqa: E402
from demo.stories import (  # noqa: E402
    BLENDS,
    RACK,
    STORIES,
    TANK_COLUMNS,
    WATER_COLUMNS,
    WATERS,
    tank_rows,
)

SEED = 20260302
RACK_FOLDER = ROOT / "src" / "pleuston" / "demo_rack"
TRUTH_FOLDER = ROOT / "demo"
TRUTH_FILES = ("truth.toml", "truth.csv")
TRUTH_COLUMNS = {
    "ec25": ("ec25_us_cm", 0), "kh": ("kh_dh", 2), "gh": ("gh_dh", 2), "ph": ("ph", 2),
    "tan": ("ammonium_mg_l_n", 3), "no2": ("nitrite_mg_l_n", 3), "no3": ("nitrate_mg_l_n", 2),
    "po4": ("phosphate_mg_l_p", 3), "k": ("potassium_mg_l", 2), "cu": ("copper_mg_l", 4),
    "oxygen": ("oxygen_dawn_mg_l", 1), "temp": ("temperature_c", 1), "cover": ("cover_share", 2),
    "grams": ("floating_g", 1), "litres": ("water_l", 2),
}  # fmt: skip
"""What truth.csv holds: name inside, column, digits."""
ENTRY_COLUMNS = ("id", "at", "tank", "kind", "what", "low", "high", "unit", "by", "method", "note")
FEED_COLUMNS = ("feed", "protein_pct", "phosphorus_pct", "potassium_pct", "copper_mg_kg",
                "moisture_pct", "note")  # fmt: skip
SOIL_COLUMNS = ("soil", "organic_pct", "nitrogen_pct", "phosphorus_pct", "copper_mg_kg", "note")


def csv_text(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Give a table as CSV text."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(rows)
    return out.getvalue()


def rack_files() -> tuple[dict[str, str], dict[str, str]]:
    """Give the files of the rack, and those of the truth behind it."""
    notes, shelves = twenty_weeks(SEED)
    slips = slip_up(notes)
    files = {
        "rack.csv": csv_text(("key", "value"), RACK),
        "waters.csv": csv_text(WATER_COLUMNS, WATERS),
        "blends.csv": csv_text(("blend", "part", "share"), BLENDS),
        "feeds.csv": csv_text(FEED_COLUMNS, ()),
        "soils.csv": csv_text(SOIL_COLUMNS, ()),
        "tanks.csv": csv_text(TANK_COLUMNS, tank_rows()),
        "entries.csv": csv_text(ENTRY_COLUMNS, [note.row for note in notes]),
    }
    return files, {"truth.toml": truth_text(slips), "truth.csv": truth_table(shelves)}


def truth_text(slips: Sequence[Slip]) -> str:
    """What really went on, for scoring: causes by tank, and the wrong entries."""
    lines = [
        "# The truth behind the demo rack, written by demo/generate.py: do not edit it by hand."
    ]
    for story in STORIES:
        lines += [
            "", "[[tank]]", f'tank = "{story.tank}"', f'cause = "{story.cause}"',
            f"since_week = {story.since_week}", f'truth = "{story.truth}"',
        ]  # fmt: skip
    for slip in slips:
        lines += [
            "", "[[wrong]]", f'id = "{slip.id}"', f'at = "{slip.at}"', f'tank = "{slip.tank}"',
            f'entry = "{slip.entry}"', f'kind = "{slip.kind}"', f'truth = "{slip.truth}"',
        ]  # fmt: skip
    return "\n".join(lines) + "\n"


def truth_table(shelves: Mapping[str, Shelf]) -> str:
    """The hidden state of every tank at the end of each Sunday, after the round."""
    rows = []
    for tank, shelf in shelves.items():
        for number in range(6, len(shelf.truth), 7):
            day = (START + timedelta(days=number)).date().isoformat()
            true = shelf.truth[number]
            rows.append(
                (tank, day, *(f"{true[key]:.{n}f}" for key, (_, n) in TRUTH_COLUMNS.items()))
            )
    return csv_text(("tank", "day", *(name for name, _ in TRUTH_COLUMNS.values())), rows)


def write(folder: Path, truth: Path) -> None:
    """Write the rack and its truth; the exchange module gives the rack its final bytes."""
    from pleuston.store.exchange import read_rack, write_rack

    files, told = rack_files()
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    write_rack(read_rack(folder), folder)
    for name, text in told.items():
        (truth / name).write_text(text, encoding="utf-8", newline="")


def differences() -> list[str]:
    """Give the names of committed files that a fresh run would write otherwise."""
    with tempfile.TemporaryDirectory() as work:
        folder, truth = Path(work) / "rack", Path(work)
        write(folder, truth)
        pairs = [(RACK_FOLDER / path.name, path) for path in sorted(folder.iterdir())]
        pairs += [(TRUTH_FOLDER / name, truth / name) for name in TRUTH_FILES]
        stray = {p.name for p in RACK_FOLDER.iterdir()} - {p.name for p in folder.iterdir()}
        return sorted(stray) + [
            old.name
            for old, new in pairs
            if not old.is_file() or old.read_bytes() != new.read_bytes()
        ]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="compare only; 1 on a difference")
    if not parser.parse_args().check:
        write(RACK_FOLDER, TRUTH_FOLDER)
        return 0
    changed = differences()
    if changed:
        sys.stderr.write(f"The demo rack is out of date: {', '.join(changed)}.\n")
        sys.stderr.write("Write it again with: python demo/generate.py\n")
    return 1 if changed else 0


if __name__ == "__main__":
    sys.exit(main())
