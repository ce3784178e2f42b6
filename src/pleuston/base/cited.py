"""Mark an equation with its source."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

F = TypeVar("F", bound=Callable[..., Any])


def cited(source: str, where: str) -> Callable[[F], F]:
    """Attach a reference key and the page, table or equation to a function.

    The function gains the attributes `source` and `where` and is otherwise unchanged.
    """

    def decorate(function: F) -> F:
        setattr(function, "source", source)  # noqa: B010
        setattr(function, "where", where)  # noqa: B010
        return function

    return decorate
