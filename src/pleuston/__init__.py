"""Keeps the record and the balance of planted, soil-bottomed, filterless aquariums.

The names below are the documented Python API; each is loaded when it is first used.
"""

from __future__ import annotations

import importlib
from typing import Any

_HOME = {
    "load_rack": "pleuston.services.racks:open_rack",
    "simulate": "pleuston.services.python:simulate",
    "believe": "pleuston.services.python:believe",
    "outlook": "pleuston.services.python:outlook",
    "ledger": "pleuston.services.python:ledger",
    "round_of": "pleuston.services.python:round_of",
    "due_tests": "pleuston.services.python:due_tests",
    "score": "pleuston.services.python:score",
    "limits": "pleuston.services.python:limits",
    "own_limit": "pleuston.services.python:own_limit",
    "plan": "pleuston.services.python:plan",
    "why": "pleuston.services.python:why",
    "what_if": "pleuston.services.python:what_if",
    "compare": "pleuston.services.python:compare",
    "oxygen": "pleuston.services.python:oxygen",
    "help_now": "pleuston.services.python:help_now",
    "judge_waters": "pleuston.services.waters:judge_waters",
}

__all__ = [
    "believe",
    "compare",
    "due_tests",
    "help_now",
    "judge_waters",
    "ledger",
    "limits",
    "load_rack",
    "outlook",
    "own_limit",
    "oxygen",
    "plan",
    "round_of",
    "score",
    "simulate",
    "what_if",
    "why",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'pleuston' has no attribute {name!r}")
    module, attribute = _HOME[name].split(":")
    return getattr(importlib.import_module(module), attribute)
