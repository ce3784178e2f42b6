"""Print an answer: as JSON for programs, as plain text for people."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import Any


def emit(answer: Any, json: bool, kind: str) -> None:
    """Print an answer of one kind of command on standard output.

    A reader that stops early, as under `| head`, is no fault.
    """
    data = as_data(answer)
    try:
        if json:
            import json as as_json

            text = as_json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False)
            sys.stdout.write(text + "\n")
        else:
            from pleuston.cli.plain import page_of

            page_of(data, kind).show()
        sys.stdout.flush()
    except BrokenPipeError:
        stop_writing()


def stop_writing() -> None:
    """Send all that is still written to standard output nowhere."""
    import os

    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def as_data(value: Any) -> Any:
    """Plain lists, dictionaries, texts and finite numbers; what is not finite becomes None.

    >>> as_data({"a": (1.0, float("inf")), "b": {3}})
    {'a': [1.0, None], 'b': [3]}
    """
    if value is None or isinstance(value, bool | str | int):
        return value
    if isinstance(value, float):
        return float(value) if value - value == 0.0 else None
    if isinstance(value, Mapping):
        return {str(key): as_data(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [as_data(item) for item in value]
    if isinstance(value, set | frozenset):
        return [as_data(item) for item in sorted(value)]
    return _other(value)


def _other(value: Any) -> Any:
    """Times, dataclasses, arrays, fractions and paths as plain data."""
    if hasattr(value, "isoformat"):
        return value.isoformat()
    if hasattr(value, "__dataclass_fields__"):
        return {name: as_data(getattr(value, name)) for name in value.__dataclass_fields__}
    if hasattr(value, "tolist"):
        return as_data(value.tolist())
    if hasattr(value, "as_integer_ratio"):
        return as_data(float(value))
    return str(value)
