"""Who does something, and what their role allows."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

from pleuston.base.errors import InputError


class NotAllowedError(InputError):
    """Someone asked for what their role may not do."""


@dataclass(frozen=True)
class Who:
    """A person on a device; both empty where the program acts by itself."""

    person: str = ""
    device: str = ""
    role: str = "keeper"


MAY = MappingProxyType({
    "keeper": frozenset({"read", "log", "tick", "photo", "keep"}),
    "helper": frozenset({"read", "log", "tick", "photo"}),
    "viewer": frozenset({"read"}),
})  # fmt: skip
"""What each role may do; keep: all that changes the rack, its people and its past."""


def may(who: Who, action: str) -> bool:
    """Say whether a role allows an action; what no role knows, nobody but the keeper may."""
    return action in MAY.get(who.role, frozenset()) or who.role == "keeper"


def require(who: Who, action: str) -> None:
    """Refuse what the role of this person does not allow."""
    if not may(who, action):
        raise NotAllowedError(
            what=f"a {who.role} may not do this",
            where=action,
            remedy="ask the keeper of the rack",
        )
