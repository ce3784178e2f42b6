"""Reads just enough of a PDF to see its pages, its marks and its text."""

from __future__ import annotations

import re
import zlib
from dataclasses import dataclass

_OBJECT = re.compile(rb"(?:^|\n)(\d+) 0 obj\n(.*?)\nendobj", re.DOTALL)
_STREAM = re.compile(rb"stream\r?\n(.*)\nendstream", re.DOTALL)
_FONT = re.compile(rb"/(f\d+) [\d.]+ Tf")
_ESCAPE = re.compile(rb"\\([0-7]{1,3}|.)", re.DOTALL)
_NAMED = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}


@dataclass(frozen=True)
class Pdf:
    """What was found: text of each page without any blanks, and all dictionaries."""

    pages: list[str]
    heads: str
    sizes: list[tuple[float, float]]

    @property
    def text(self) -> str:
        return "".join(self.pages)


def squeezed(text: str) -> str:
    """A text without blanks and soft hyphens, to be looked for on a page."""
    return "".join(text.replace("\u00ad", "").split())


def read_pdf(content: bytes) -> Pdf:
    assert content.startswith(b"%PDF-")
    objects = {int(number): body for number, body in _OBJECT.findall(content)}
    pages, sizes = [], []
    for kid in _kids(objects, next(b for b in objects.values() if b"/Type/Pages" in b)):
        fonts = _fonts(objects, kid)
        stream = _stream(objects[_reference(kid, b"Contents")])
        pages.append(squeezed(_shown(stream, fonts)))
        box = re.search(rb"/MediaBox\[0 0 ([\d.]+) ([\d.]+)\]", kid)
        assert box
        sizes.append((float(box[1]), float(box[2])))
    heads = b"\n".join(
        body if b"stream" not in body or b"/Metadata" in body else body.split(b"stream")[0]
        for body in objects.values()
    )
    return Pdf(pages, heads.decode("utf-8", "replace"), sizes)


def _kids(objects: dict[int, bytes], node: bytes) -> list[bytes]:
    found = re.search(rb"/Kids\[([^\]]*)\]", node)
    assert found
    result = []
    for number in re.findall(rb"(\d+) 0 R", found[1]):
        kid = objects[int(number)]
        result += _kids(objects, kid) if b"/Type/Pages" in kid else [kid]
    return result


def _reference(body: bytes, name: bytes) -> int:
    found = re.search(rb"/" + name + rb" (\d+) 0 R", body)
    assert found, name
    return int(found[1])


def _stream(body: bytes) -> bytes:
    found = _STREAM.search(body)
    assert found
    return zlib.decompress(found[1]) if b"/FlateDecode" in body else found[1]


def _fonts(objects: dict[int, bytes], page: bytes) -> dict[bytes, dict[int, str]]:
    named = re.search(rb"/Resources (\d+) 0 R", page)
    resources = objects[int(named[1])] if named else page
    listed = re.search(rb"/Font<<(.*?)>>", resources)
    return {
        name: _letters(_stream(objects[_reference(objects[int(number)], b"ToUnicode")]))
        for name, number in re.findall(rb"/(f\d+) (\d+) 0 R", listed[1] if listed else b"")
    }


def _letters(table: bytes) -> dict[int, str]:
    found = {}
    for part in re.findall(rb"beginbfchar(.*?)endbfchar", table, re.DOTALL):
        for code, text in re.findall(rb"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", part):
            found[int(code, 16)] = bytes.fromhex(text.decode()).decode("utf-16-be")
    return found


def _shown(stream: bytes, fonts: dict[bytes, dict[int, str]]) -> str:
    said: list[str] = []
    letters: dict[int, str] = {}
    place = 0
    while place < len(stream):
        if font := _FONT.match(stream, place):
            letters, place = fonts[font[1]], font.end()
        elif stream[place : place + 1] == b"(":
            end = _end_of_string(stream, place)
            raw = _ESCAPE.sub(_unescaped, stream[place + 1 : end])
            codes = (int.from_bytes(raw[i : i + 2], "big") for i in range(0, len(raw), 2))
            said += [letters.get(code, "") for code in codes]
            place = end + 1
        else:
            place += 1
    return "".join(said)


def _end_of_string(stream: bytes, start: int) -> int:
    """Where the bracket that opens at a place closes; pairs inside are part of the string."""
    depth, place = 0, start
    while True:
        letter = stream[place : place + 1]
        if letter == b"\\":
            place += 1
        depth += (letter == b"(") - (letter == b")")
        if depth == 0:
            return place
        place += 1


def _unescaped(found: re.Match[bytes]) -> bytes:
    what = found[1]
    return bytes([int(what, 8)]) if what.isdigit() else _NAMED.get(what, what)
