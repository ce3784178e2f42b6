"""A tank's belief held against a second method: do both ways of learning say the same?"""

from __future__ import annotations

from typing import Any

import numpy as np

from pleuston.inference.belief import Posterior
from pleuston.inference.laplace import agreement, learn_by_summits
from pleuston.inference.tank import LEARNING_MEMBERS, learn_rates
from pleuston.services.racks import Source, open_rack, parse_moment

AGREES = 0.5
"""Largest distance of the means, in sd, at which two methods are said to agree."""
MORE, DRAWS = 3, 768
"""How many times the members of a belief the first method takes, and draws of the second."""
TOLD = 0.2
"""Least share of a number's uncertainty that readings took away, to count as learned."""
SHARES = {"low": 0.05, "middle": 0.5, "high": 0.95}


def second_opinion(rack: Source, tank: str, at: str = "", *, seed: int = 1) -> dict[str, Any]:
    """Learn a tank twice, by two methods that share the likelihood alone, and compare.

    The first with more members than a belief takes, so that chance alone sets them less apart.
    """
    record = open_rack(rack)
    moment = parse_moment(at, record)
    learned = learn_rates(record, tank, moment, seed=seed, learning=MORE * LEARNING_MEMBERS)
    task, first = learned.task, learned.posterior
    second = learn_by_summits(task.prior, task.forward(task.prior), task.data, draws=DRAWS,
                               seed=seed)  # fmt: skip
    told = agreement(first, second)
    informed = np.minimum(first.diagnostics.informed, second.diagnostics.informed)
    rows: list[dict[str, Any]] = [
        {
            "name": part.name, "unit": part.unit, "learned": bool(informed[i] >= TOLD),
            "shift_sd": told.shift[i], "ratio_of_sd": told.ratio[i],
            "first": _band(first, part.name), "second": _band(second, part.name),
        }
        for i, part in enumerate(task.prior)
    ]  # fmt: skip
    apart = [row["name"] for row in rows if row["learned"] and row["shift_sd"] > AGREES]
    return {
        "tank": tank, "at": moment.isoformat(), "readings": len(task.pairs),
        "agree": not apart, "apart": apart, "most_apart": told.largest[0],
        "first": _how(first), "second": _how(second), "numbers": rows,
    }  # fmt: skip


def _band(posterior: Posterior, name: str) -> dict[str, float]:
    ends = posterior.quantile(name, list(SHARES.values()))
    return {word: float(value) for word, value in zip(SHARES, ends, strict=True)}


def _how(posterior: Posterior) -> dict[str, Any]:
    d = posterior.diagnostics
    return {
        "method": d.method, "runs": d.runs, "effective_members": d.effective_members,
        "tempered": d.tempered, "log_evidence": d.log_evidence,
    }  # fmt: skip
