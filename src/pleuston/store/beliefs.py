"""Rows of what is derived: beliefs of tanks and answers made from them, with what from.

They can be deleted at any time and made again; the hashes beside them tell whether what
they were made from has changed.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, and_, delete, select

from pleuston.store.tables import ANSWERS, BELIEFS

A, B = ANSWERS.c, BELIEFS.c
BELIEFS_KEPT = 2
"""Beliefs kept of each tank: the last, and the one before it."""


@dataclass(frozen=True)
class MadeFrom:
    """What a belief or an answer was made from.

    at: the moment it holds for; model: hash of the model and its parameters; record: hash
    of the tank's record; grades: JSON, how many of its parameters are of each grade;
    made_at: when it was made.
    """

    at: datetime
    model: str
    seed: int
    record: str
    grades: str
    made_at: datetime

    def values(self) -> dict[str, Any]:
        """The columns of a row."""
        return dict(self.__dict__)


def put_belief(connection: Connection, tank: str, made: MadeFrom, members: bytes) -> None:
    """Keep a belief, in place of one for the same moment; older ones go."""
    same = and_(B.tank == tank, B.at == made.at)
    connection.execute(delete(BELIEFS).where(same))
    connection.execute(BELIEFS.insert().values(tank=tank, members=members, **made.values()))
    moments = connection.execute(
        select(B.at).where(B.tank == tank).order_by(B.made_at.desc(), B.at.desc())
    ).scalars()  # fmt: skip
    for old in list(moments)[BELIEFS_KEPT:]:
        connection.execute(delete(BELIEFS).where(B.tank == tank, B.at == old))


def last_belief(connection: Connection, tank: str) -> Row[Any] | None:
    """Give the belief of a tank that was made last."""
    return connection.execute(
        select(BELIEFS).where(B.tank == tank).order_by(B.made_at.desc(), B.at.desc()).limit(1)
    ).first()  # fmt: skip


def last_beliefs(connection: Connection, at: datetime, model: str, seed: int) -> list[Row[Any]]:
    """Give each tank's latest belief of this moment or earlier, of one model and seed, by tank."""
    wanted = and_(B.at <= at, B.model == model, B.seed == seed)
    rows = connection.execute(select(BELIEFS).where(wanted).order_by(B.tank, B.at)).all()
    return list({row.tank: row for row in rows}.values())


def put_answers(
    connection: Connection, tank: str, made: MadeFrom, answers: Iterable[tuple[str, Any]]
) -> None:
    """Keep answers (kind, data) of a tank, each in place of the one of its kind."""
    for kind, answer in answers:
        connection.execute(delete(ANSWERS).where(A.tank == tank, A.kind == kind))
        connection.execute(
            ANSWERS.insert().values(tank=tank, kind=kind, answer=pack(answer), **made.values())
        )


def answer_row(connection: Connection, tank: str, kind: str) -> Row[Any] | None:
    """Give the last answer of a kind for a tank."""
    wanted = and_(A.tank == tank, A.kind == kind)
    return connection.execute(select(ANSWERS).where(wanted)).first()


def answers_of_kind(connection: Connection, kind: str) -> dict[str, Row[Any]]:
    """Give the last answers of a kind by tank."""
    return {r.tank: r for r in connection.execute(select(ANSWERS).where(A.kind == kind))}


def forget_answers(connection: Connection, prefix: str, before: datetime) -> int:
    """Delete answers whose kind begins so and that were made before a moment."""
    old = and_(A.kind.startswith(prefix, autoescape=True), A.made_at < before)
    return connection.execute(delete(ANSWERS).where(old)).rowcount


def pack(answer: Any) -> bytes:
    """An answer as packed JSON.

    >>> unpack(pack({"tank": "Fern", "values": [1.5, None]}))
    {'tank': 'Fern', 'values': [1.5, None]}
    """
    text = json.dumps(answer, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return zlib.compress(text.encode(), 6)


def unpack(packed: bytes) -> Any:
    """The answer that was packed."""
    return json.loads(zlib.decompress(packed))
