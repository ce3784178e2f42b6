"""Why a tank is as it is: the causes of one tank, or of all."""

from __future__ import annotations

from typing import Any

from pleuston.base.errors import PleustonError
from pleuston.inference.causes import causes_of
from pleuston.services.racks import Source, open_rack, parse_moment


def why_answer(rack: Source, tank: str = "", at: str = "") -> Any:
    """The causes of a tank as of a moment, or a list over all tanks."""
    record = open_rack(rack)
    moment = parse_moment(at, record)
    if tank:
        return causes_of(record, tank, moment)
    found: list[dict[str, Any]] = []
    for each in record.until(moment).tanks:
        try:
            found.append(causes_of(record, each.name, moment))
        except PleustonError as error:
            found.append({"tank": each.name, "error": str(error)})
    return found
