"""What an import could not take, and where: all of it, not the first only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pleuston.base.errors import InputError


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that could not be taken as it stands."""

    file: str
    line: int
    """Line of the file, the header being line 1; 0 where the file as a whole is meant."""
    column: str
    """Name of the column; empty where the row or file as a whole is meant."""
    what: str
    remedy: str

    @property
    def where(self) -> str:
        """file:line:column, as far as each is known."""
        return ":".join(str(part) for part in (self.file, self.line, self.column) if part)

    def __str__(self) -> str:
        return f"{self.where}: {self.what}. {_sentence(self.remedy).rstrip(chr(46))}."


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that was taken in another form than it was written."""

    file: str
    line: int
    column: str
    given: str
    taken: str

    def __str__(self) -> str:
        place = ":".join(str(part) for part in (self.file, self.line, self.column) if part)
        return f"{place}: {self.given!r} taken as {self.taken!r}"


class ImportRefused(InputError):  # noqa: N818 - the name says what happened
    """A rack folder was not taken; `problems` lists every reason."""

    def __init__(
        self, folder: str, problems: Sequence[Problem], failed: str = "not imported"
    ) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        count = len(self.problems)
        first = self.problems[0]
        more = f", the first at {first.where}: {first.what}" if count > 1 else f": {first.what}"
        super().__init__(
            what=f"{failed}, {count} problem{'s' if count > 1 else ''}{more}",
            where=folder if count > 1 else f"{folder}, {first.where}",
            remedy=_sentence(first.remedy),
        )

    def report(self) -> str:
        """One line per problem."""
        return "\n".join(str(problem) for problem in self.problems)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
