"""The words in headers of kept tables, and what each stands for."""

from __future__ import annotations

import re
from types import MappingProxyType

from pleuston.base.errors import UnitError
from pleuston.base.units import find

ROLES = (
    "at", "time", "tank", "kind", "what", "value", "low", "high", "unit", "by", "method",
    "note", "id", "amount", "ignore",
)  # fmt: skip
"""What a column can be. amount: each of its cells is an entry of its own, of the kind, what
and unit that the column gives. value, low, high: the number of a line that names its kind."""

_ROLE_WORDS = {
    "at": "date day datum data fecha jour timestamp datetime zeitpunkt when at date/time|"
          "date time|date and time|day/time|date mm/dd/yyyy|date dd/mm/yyyy|date yyyy-mm-dd",
    "time": "time uhrzeit heure hora tijd clock|time hh:mm:ss|time hh:mm",
    "tank": "tank aquarium becken bac acuario vasca bak",
    "kind": "kind type action art event",
    "what": "what parameter test reading measurement quantity messwert item",
    "value": "value result amount wert valor valeur reading_value",
    "low": "low min minimum from", "high": "high max maximum to",
    "unit": "unit units einheit unité unidad eenheid",
    "by": "by who person keeper name initials",
    "method": "method kit instrument device methode",
    "note": "note notes comment comments remark remarks bemerkung bemerkungen notiz notizen "
            "remarque remarques notas opmerking observations",
    "id": "id uuid",
}  # fmt: skip
_READING_WORDS = {
    "ph": "ph|ph value|ph wert|ph-wert",
    "ammonium_ion": "ammonia ammonium nh3 nh4 nh4+ nh3/nh4 amoniaco|nh3/nh4+|total ammonia",
    "ammonium": "nh4-n nh3-n tan ammonia-n ammonium-n|total ammonia nitrogen",
    "nitrite_ion": "nitrite nitrit no2 no2- nitritos nitriet", "nitrite": "no2-n nitrite-n",
    "nitrate_ion": "nitrate nitrat no3 no3- nitratos nitraat", "nitrate": "no3-n nitrate-n",
    "phosphate_ion": "phosphate phosphat po4 po4-3 po43- fosfato fosfaat",
    "potassium": "potassium kalium k k+ potasio", "iron": "iron eisen fe fer hierro ijzer",
    "copper": "copper kupfer cu cuivre cobre koper",
    "kh": "kh dkh alkalinity karbonathärte|carbonate hardness",
    "gh": "gh dgh gesamthärte|general hardness|total hardness",
    "ec25": "ec ec25 conductivity spcond leitwert leitfähigkeit conductivité|"
            "specific conductance|sp cond",
    "pen_ppm": "tds|tds pen|pen ppm",
    "temperature": "temp temp. temperature temperatur température temperatura temperatuur|"
                   "water temp|water temperature",
    "oxygen": "o2 do oxygen sauerstoff odo|dissolved oxygen",
    "oxygen_pct": "o2% odo% saturation|o2 sat|do sat|odo sat|oxygen saturation|odo % sat|% sat",
    "cover": "cover coverage|plant cover|surface cover", "light_ppfd": "par ppfd",
    "room_temperature": "room|room temp|room temperature|air temp|air temperature",
    "humidity": "humidity rh|room humidity", "level_drop": "evaporation|level drop",
}  # fmt: skip
_KIND_WORDS = {
    "water_change": "wc waterchange wasserwechsel|water change|water changed",
    "top_up": "topup top-off|top up|top off", "feed": "feed food fed futter feeding",
    "harvest": "harvest harvested thinned trimmed",
    "seen": "seen signs sign",
}  # fmt: skip


def _table(words: dict[str, str]) -> dict[str, str]:
    """Word -> name; single words are parted by blanks, groups of words by bars."""
    found: dict[str, str] = {}
    for name, text in words.items():
        first, *groups = text.split("|")
        singles = first.split(" ")
        for word in (*singles, *groups):
            if word.strip():
                found.setdefault(word.strip(), name)
    return found


ROLE_OF = MappingProxyType(_table(_ROLE_WORDS))
READING_OF = MappingProxyType(_table(_READING_WORDS))
KIND_OF = MappingProxyType(_table(_KIND_WORDS))
UNSURE_OF = MappingProxyType({
    "ammonium_ion": "taken as the ion NH4; choose ammonium if the kit tells nitrogen (NH4-N)",
    "nitrite_ion": "taken as the ion NO2; choose nitrite if the kit tells nitrogen (NO2-N)",
    "nitrate_ion": "taken as the ion NO3; choose nitrate if the kit tells nitrogen (NO3-N)",
    "pen_ppm": "taken as a pen's ppm; give its factor as the method if it is known",
})  # fmt: skip
AS_NITROGEN = MappingProxyType({
    "ammonium_ion": "ammonium", "nitrite_ion": "nitrite", "nitrate_ion": "nitrate",
})  # fmt: skip
_BRACKETS = re.compile(r"[(\[]([^)\]]*)[)\]]")
_DEGREES = re.compile("(?:¬∞|∞|â°|Â°|º|˚)")


def plain(header: str) -> str:
    """A header in one form: small letters, single blanks, signs that were garbled mended.

    >>> plain("Temp ∞C "), plain("Cond_µS/cm")
    ('temp °c', 'cond us/cm')
    """
    text = _DEGREES.sub("°", header).replace("µ", "u").replace("μ", "u").replace("_", " ")
    return re.sub(r"\s+", " ", text).strip().casefold()


def parted(header: str) -> tuple[str, str]:
    """The name in a header, and the unit in brackets or at its end.

    >>> parted("Nitrate (mg/L)"), parted("SpCond µS/cm"), parted("pH")
    (('nitrate', 'mg/L'), ('spcond', 'uS/cm'), ('ph', ''))
    """
    mended = _DEGREES.sub("°", header).replace("µ", "u").replace("μ", "u").replace("_", " ")
    mended = re.sub(r"\s+", " ", mended).strip()
    inside = _BRACKETS.search(mended)
    if inside and is_unit(inside[1]):
        return plain(mended[: inside.start()] + " " + mended[inside.end() :]), inside[1].strip()
    words = mended.split(" ")
    for count in (3, 2, 1):
        if len(words) > count and is_unit(" ".join(words[-count:])):
            return plain(" ".join(words[:-count])), " ".join(words[-count:])
    return plain(mended), ""


def is_unit(text: str) -> bool:
    """Say whether a text is a unit, also one `as N` or `as NO3`."""
    bare = re.sub(r"\s*(?:as\s+)?(?:NO3|NO2|NH4|NH3|PO4|N|P)(?:-[NP])?[+-]?$", "", text.strip())
    for form in (text.strip(), bare):
        if form:
            try:
                find(form)
            except UnitError:
                continue
            return form.casefold() not in ("1", "-", "in", "k", "d", "min", "s", "m", "h")
    return False
