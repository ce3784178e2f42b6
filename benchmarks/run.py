"""`python benchmarks/run.py [--quick]`: print a table and write benchmarks/out.json.

One run on one machine. Single-thread comparisons count processor time, which is what a
busy machine disturbs least; latencies and threads count wall time. Nothing is asserted.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))


def main() -> None:
    """Run the benchmarks and write what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer members and days")
    parser.add_argument("--only", default="", help="names of parts, by commas")
    given = parser.parse_args()
    from benchmarks.parts import machine, report, run_parts

    found: dict[str, Any] = {"quick": given.quick, "machine": machine()}
    for key, value in run_parts(given.quick, [p for p in given.only.split(",") if p]):
        found[key] = value
    (HERE / "out.json").write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    report(found)


if __name__ == "__main__":
    main()
