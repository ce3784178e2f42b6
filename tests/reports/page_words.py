"""What a page says: its text, and the elements and pictures it is made of."""

from __future__ import annotations

from html.parser import HTMLParser

from .pdf_text import squeezed


class Words(HTMLParser):
    """The text of a page, and the elements it is made of."""

    def __init__(self, content: bytes) -> None:
        super().__init__()
        self.said: list[str] = []
        self.elements: list[str] = []
        self.pictures: list[dict[str, str | None]] = []
        self.feed(content.decode())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(tag)
        if tag == "img":
            self.pictures.append(dict(attrs))

    def handle_data(self, data: str) -> None:
        if self.elements and self.elements[-1] != "style":
            self.said.append(data)

    @property
    def text(self) -> str:
        return squeezed("".join(self.said))
