"""Writes docs/explanation/trust.md from benchmarks/twins.json.

`python tools/trust.py` writes the page, `--check` compares it and exits with 1 when it is stale,
`--measure` makes the tables anew first (about half an hour on two cores): the
belief on tanks of another make, what its parts are worth, and the round beside the rule of thumb.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from docs import grid

ROOT = Path(__file__).resolve().parents[1]
DATA = ROOT / "benchmarks" / "twins.json"
PAGE = ROOT / "docs" / "explanation" / "trust.md"
TEMPLATE = Path(__file__).with_name("trust_page.md")
LEADS = {1: "a day", 14: "two weeks", 28: "four weeks"}
BANDS = ("0.5", "0.8", "0.9", "0.95")
HELD_OUT = 111
"""The first seed of the tables: those before were looked at while the program was made."""
KEPT = 2
"""Seeds of the tanks that are kept both ways, by the round and by the rule of thumb."""
HELD = (0.85, 0.95)
"""Between which the share held by 90 % bands should lie."""


def share(value: float) -> str:
    """A share as percent."""
    return f"{100.0 * value:.0f} %"


def forecasts(made: Mapping[str, Any]) -> str:
    """Coverage and skill of the bands."""
    rows = []
    for line in made["forecasts"]:
        skills = [f"{line[f'skill_{r}']:.2f}" if f"skill_{r}" in line else ""
                  for r in ("point", "last", "line")]  # fmt: skip
        bands = [share(line[f"in_{b}"]) for b in BANDS]
        rows.append([line["quantity"], LEADS[line["lead"]], line["n"], *bands, *skills])
    columns = ["quantity", "ahead", "n", "50 %", "80 %", "90 %", "95 %", "skill: point",
               "skill: last", "skill: line"]  # fmt: skip
    return grid(columns, rows)


def missed(made: Mapping[str, Any]) -> str:
    """The bands that are not as honest as they should be, in words."""
    low, high = HELD
    rows = [line for line in made["forecasts"] if line["quantity"] != "all"]
    told = [(f"{r['quantity']} at {LEADS[r['lead']]}", float(r["in_0.9"])) for r in rows]
    narrow = [name for name, held in told if held < low]
    wide = [name for name, held in told if held > high]
    whole = {
        name: sum(r["n"] * r["in_0.9"] for r in mine) / sum(r["n"] for r in mine)
        for name in dict.fromkeys(r["quantity"] for r in rows)
        if (mine := [r for r in rows if r["quantity"] == name])
    }
    least, most = min(whole, key=whole.__getitem__), max(whole, key=whole.__getitem__)
    return (f"Of 90 % bands too narrow (below {share(low)}): {', '.join(narrow) or 'none'}. "
            f"Too wide (above {share(high)}): {', '.join(wide) or 'none'}. "
            f"A day, two and four weeks ahead taken together, from {share(whole[least])} ({least}) "
            f"to {share(whole[most])} ({most}).\n")  # fmt: skip


def causes(made: Mapping[str, Any]) -> str:
    """Whether causes are named rightly."""
    rows: list[list[object]] = [
        [r["cause"], r["n"], r["first"], r["among_three"],
         ", ".join(f"{c} {n}" for c, n in r["taken_for"].items())] for r in made["causes"]
    ]  # fmt: skip
    total, first, three = (
        sum(r[key] for r in made["causes"]) for key in ("n", "first", "among_three")
    )
    rows.append(["all", total, f"{first} ({share(first / total)})",
                 f"{three} ({share(three / total)})", ""])  # fmt: skip
    return grid(["cause", "n", "first", "among three", "taken for"], rows)


def alarms(made: Mapping[str, Any]) -> str:
    """Alarms in healthy tanks."""
    rows: list[list[object]] = [
        [r["story"], r["n"], r["states"], r["causes"]] for r in made["alarms"]
    ]
    sums = [sum(r[key] for r in made["alarms"]) for key in ("n", "states", "causes")]
    rows.append(["all", *sums])
    return grid(["tank", "looks", "act or danger", "a cause named"], rows)


def ablation(made: Mapping[str, Any]) -> str:
    """What each part of the learning is worth."""
    rows = [
        [r["group"], r["way"], r["n"], share(r["covered_90"]), f"{r['crps']:.3f}",
         f"{r['worse_by']:+.3f} ± {r['standard_error']:.3f}",
         f"{r['log_worse_by']:+.3f} ± {r['log_standard_error']:.3f}"] for r in made["ablation"]
    ]  # fmt: skip
    columns = ["bands", "way", "n", "in 90 %", "CRPS", "CRPS worse by", "log score worse by"]
    return grid(columns, rows)


def rounds(made: Mapping[str, Any]) -> str:
    """Following the round against the rule of thumb."""
    rows = []
    for r in made["rounds"]:
        interval = f"{r['low']:g} to {r['high']:g}" if "low" in r else ""
        difference = f"{r['difference']:+.3g}" if "difference" in r else ""
        rows.append([r["what"], r["n"], f"{r['round']:.3g}", f"{r['thumb']:.3g}", difference,
                     interval])  # fmt: skip
    return grid(["what", "n", "round", "thumb", "difference", "90 % interval"], rows)


SECTIONS = (forecasts, missed, causes, alarms, ablation, rounds)


def page(made: Mapping[str, Any]) -> str:
    """The whole page."""
    text = TEMPLATE.read_text(encoding="utf-8")
    for section in SECTIONS:
        text = text.replace(f"<<{section.__name__}>>", section(made).rstrip())
    return text


def measure(first: int, seeds: int) -> None:
    """Make all tables anew, the twins' from some seed on."""
    sys.path.insert(0, str(ROOT))
    from benchmarks import ablation as parts
    from benchmarks import twin_rounds, twins
    from tests.twin import STORIES

    made = twins.measure(range(first, first + seeds), list(STORIES))
    made.pop("rows")
    made["ablation"] = parts.ablated()
    made["rounds"] = twin_rounds.measure(twin_rounds.STORIES_KEPT, KEPT)
    DATA.write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")


def main(given: Sequence[str] | None = None) -> int:
    """Write or check the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--measure", action="store_true")
    parser.add_argument("--seeds", type=int, default=8)
    parser.add_argument("--first", type=int, default=HELD_OUT, help="the first seed")
    asked = parser.parse_args(given)
    if asked.measure:
        measure(asked.first, asked.seeds)
    text = page(json.loads(DATA.read_text(encoding="utf-8")))
    if asked.check:
        fresh = PAGE.exists() and PAGE.read_text(encoding="utf-8") == text
        print("fresh" if fresh else f"stale: {PAGE.relative_to(ROOT)}; run python tools/trust.py")
        return 0 if fresh else 1
    PAGE.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
