"""Sheets for paper: what each one says, once, and two ways to set it: PDF and HTML."""

from pleuston.reports.paper.facts import Facts
from pleuston.reports.paper.sheet import Sheet

__all__ = ["Facts", "Sheet"]
