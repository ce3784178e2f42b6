"""The rack folder: how a keeper's record goes in and out.

`read_rack(folder)` gives a record or raises `ImportRefused` with every problem;
`write_rack(record, folder)` writes one; writing, reading and writing again gives
the same bytes.
"""

from pleuston.store.exchange_problems import Change, ImportRefused, Problem
from pleuston.store.exchange_read import Taken, read_rack, read_rack_report
from pleuston.store.exchange_write import files_of, write_rack

__all__ = [
    "Change",
    "ImportRefused",
    "Problem",
    "Taken",
    "files_of",
    "read_rack",
    "read_rack_report",
    "write_rack",
]
