"""A program that logs entries one by one and says each that is kept; it is killed meanwhile.

Usage: python -m tests.faults.writer ADDRESS FIRST LAST
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime

from tests.store.databases import ph

from pleuston.services.log import log_entries
from pleuston.services.who import Who
from pleuston.store.session import open_database


def main(address: str, first: int, last: int) -> None:
    """Log pH readings whose ids are numbers, from first to last."""
    db = open_database(address)
    for number in range(first, last + 1):
        row = ph(6.0 + (number % 200) / 100.0, number, at="2026-05-01T08:00")
        log_entries(db, [row], Who("kim"), datetime.now(UTC))
        print(number, flush=True)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
