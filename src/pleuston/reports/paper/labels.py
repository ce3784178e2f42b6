"""Labels with a QR code that opens a tank's log page."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import datetime
from urllib.parse import quote, urlsplit

from pleuston.base.errors import InputError
from pleuston.reports.paper.facts import Facts
from pleuston.reports.paper.sheet import Sheet, sheet_of
from pleuston.reports.paper.words import number

ACROSS, DOWN = 3, 8
"""Labels of 70 by 37 mm on A4."""
QUIET = 4
"""Light modules around a code, as the standard asks."""
LEVEL = "q"
"""A quarter of the code may be wet, scratched or under a drop."""
ADDRESS_LONGEST = 500


def log_address(base: str, tank: str) -> str:
    """The address of a tank's log page.

    >>> log_address("http://127.0.0.1:8000/", "Fern 2")
    'http://127.0.0.1:8000/t/Fern%202/log'
    """
    return f"{checked_base(base)}/t/{quote(tank, safe='')}/log"


def checked_base(base: str) -> str:
    """The address of the app without its last stroke; refused when a phone can't open it."""
    try:
        parts = urlsplit(base)
        good = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        good = False
    printable = all(33 <= ord(c) < 127 and c not in "\"<>\\^`{|}" for c in base)
    if not good or not printable or parts.query or parts.fragment or parts.username:
        raise InputError(
            f"{base[:80]!r} is no address that a phone can open", where="base address",
            remedy="Give it as the app prints it, such as http://127.0.0.1:8000",
        )  # fmt: skip
    if len(base) > ADDRESS_LONGEST // 2:
        raise InputError("the address is too long for a code", "base address", "Use a shorter one")
    return base.rstrip("/")


def qr_svg(address: str) -> str:
    """A QR code as SVG: dark on white, with its quiet zone; empty for too long an address."""
    import segno

    if len(address) > ADDRESS_LONGEST:
        return ""

    held = io.BytesIO()
    code = segno.make(address, error=LEVEL, micro=False, boost_error=False)
    code.save(held, kind="svg", border=QUIET, light="white", dark="black", xmldecl=False, scale=4)
    return held.getvalue().decode()


def labels(tanks: Sequence[Facts], made: datetime, rack: str, skip: int = 0) -> Sheet:
    """Labels in walking order; skip: places already used up on the first sheet."""
    if not 0 <= skip < ACROSS * DOWN:
        raise InputError(
            f"{skip} places can't be left free", where="--skip",
            remedy=f"A sheet has {ACROSS * DOWN} places: give 0 to {ACROSS * DOWN - 1}",
        )  # fmt: skip
    data = {
        "across": ACROSS, "down": DOWN,
        "places": [None] * skip + [
            {"name": f.name, "litres": f"{number(float(f.tank.net_l))} L", "address": f.address,
             "qr": qr_svg(f.address)}
            for f in tanks
        ],
    }  # fmt: skip
    return sheet_of("labels", f"Labels of {rack or 'the rack'}", made, data)
