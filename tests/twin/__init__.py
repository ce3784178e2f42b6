"""Synthetic keepers whose truth comes from a model other than the program's own.

`kept(story, seed, weeks)` gives a record and what was true; `keeping_of(story, seed)` a tank
that a policy keeps week by week; `rack(stories, seed)` several tanks of one keeper.
"""

from tests.twin.keeping import START, Keeping
from tests.twin.making import Kept, keeping_of, kept, rack, record_of
from tests.twin.stories import STORIES, Story

__all__ = [
    "START", "STORIES", "Keeping", "Kept", "Story", "keeping_of", "kept", "rack", "record_of",
]  # fmt: skip
