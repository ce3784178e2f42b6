"""What answers are made from besides the record: the model, its parameters, its version."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from importlib import resources
from importlib.metadata import version


@cache
def model_now() -> str:
    """Hash of the model, then of every parameter record, of how readings are read and the version.

    Reads files alone, so that a page can ask without loading what computes.
    """
    table = resources.files("pleuston.model").joinpath("table.json").read_text("utf-8")
    digest = hashlib.sha256(version("pleuston").encode())
    read = resources.files("pleuston.inference").joinpath("observation.toml")
    digest.update(read.read_bytes())
    folder = resources.files("pleuston.base").joinpath("parameters")
    for file in sorted(folder.iterdir(), key=lambda f: f.name):
        if file.name.endswith(".toml"):
            digest.update(file.name.encode() + file.read_bytes())
    return f"{json.loads(table)['hash']}-{digest.hexdigest()[:12]}"
