"""Errors that say what is wrong, where, and what to do."""

from __future__ import annotations


class PleustonError(Exception):
    """Base of every error a keeper may see: what happened, where, and the remedy."""

    exit_code = 3

    def __init__(self, what: str, where: str, remedy: str) -> None:
        self.what = what
        self.where = where
        self.remedy = remedy
        super().__init__(what, where, remedy)

    def __str__(self) -> str:
        end = "" if self.remedy.endswith(("?", "!", ".")) else "."
        return f"{self.where}: {self.what}. {self.remedy}{end}"


class InputError(PleustonError):
    """Something given by the keeper can't be taken."""

    exit_code = 2


class UnitError(InputError):
    """A unit is unknown or does not fit the quantity."""


class UnknownNameError(InputError):
    """A name stands for nothing; the remedy names the nearest known ones."""


class ModelError(PleustonError):
    """The table of processes is not sound."""


class BalanceError(PleustonError):
    """What went in, came out and stayed does not add up."""


class EngineError(PleustonError):
    """A run can't be made or did not go through."""
