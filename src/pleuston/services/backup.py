"""Make, check, list and restore back-ups of a rack's database file."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from pleuston.base.errors import InputError
from pleuston.services.who import Who, require
from pleuston.store import audit, people
from pleuston.store import backup as files
from pleuston.store.session import Database, StoreError, is_address, open_database, shown

_NAME = re.compile(r"(?P<stem>.+)-(?P<at>\d{8}T\d{6}Z)(-\d+)?\.db")
_LEFT = timedelta(days=1)
KEEPER = Who()


def backup_folder(db: Database) -> Path:
    """Where the back-ups of a rack are kept unless another folder is named."""
    file = db.file
    if file is None:
        raise _on_a_server(db.address)
    return file.parent / f"{file.stem}-backups"


def _on_a_server(address: str) -> StoreError:
    return StoreError(
        what="a database on a server is not backed up here",
        where=shown(address),
        remedy="use the server's own pg_dump and pg_restore",
    )


def backup(
    db: Database, folder: Path | None, now: datetime, keep_daily: int = 7, keep_weekly: int = 8,
    who: Who = KEEPER,
) -> dict[str, Any]:  # fmt: skip
    """Write a back-up while the rack is used, check it, and let old ones go.

    The last of each of `keep_daily` days and of `keep_weekly` weeks are kept.
    """
    require(who, "keep")
    if db.file is None:
        raise _on_a_server(db.address)
    folder = Path(folder) if folder is not None else backup_folder(db)
    if folder.exists() and not folder.is_dir():
        raise InputError("this is a file, not a folder", str(folder), "name a folder")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise StoreError(
            f"the folder can't be made ({fault.strerror})", str(folder), "name another"
        ) from fault
    target = files.free_name(folder / f"{db.file.stem}-{now.astimezone(UTC):%Y%m%dT%H%M%SZ}.db")
    found = files.copy_whole(db, target)
    dropped = _prune(folder, db.file.stem, target, keep_daily, keep_weekly, now)
    with db.write() as connection:
        audit.note(
            connection, "back up", target.name, now, person=who.person, device=who.device,
            after={"entries": found["entries"], "dropped": [path.name for path in dropped]},
        )  # fmt: skip
    return {
        **found, "file": str(target), "name": target.name, "bytes": target.stat().st_size,
        "made_at": now, "dropped": [str(path) for path in dropped],
    }  # fmt: skip


def _prune(
    folder: Path, stem: str, made: Path, daily: int, weekly: int, now: datetime
) -> list[Path]:
    """Delete back-ups that no rule keeps: never the one just made, nor one from the future."""
    found = [(at, path) for at, path in _kept(folder) if _NAME.fullmatch(path.name)["stem"] == stem]  # type: ignore[index]
    found.sort(reverse=True)
    wanted = {path for at, path in found if at > now} | {made}
    for most, period in ((daily, "%Y-%m-%d"), (weekly, "%G-%V")):
        newest: dict[str, Path] = {}
        for at, path in found:
            newest.setdefault(at.strftime(period), path)
        wanted |= set(list(newest.values())[:most])
    dropped = [path for _, path in found if path not in wanted]
    for path in dropped:
        path.unlink(missing_ok=True)
    for part in folder.glob(f".{stem}-*{files.PART}"):
        if now.timestamp() - part.stat().st_mtime > _LEFT.total_seconds():
            part.unlink(missing_ok=True)
    return dropped


def _kept(folder: Path) -> Iterable[tuple[datetime, Path]]:
    for path in folder.iterdir():
        match = _NAME.fullmatch(path.name)
        if match and path.is_file():
            at = datetime.strptime(match["at"], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
            yield at, path


def list_backups(folder: Path) -> list[dict[str, Any]]:
    """The back-ups in a folder, newest first."""
    if not Path(folder).is_dir():
        return []
    return [
        {"file": str(path), "name": path.name, "bytes": path.stat().st_size, "made_at": at}
        for at, path in sorted(_kept(Path(folder)), reverse=True)
    ]


def check_backup(file: Path) -> dict[str, Any]:
    """Read a back-up through and say what it holds; refuses what is not sound."""
    return files.check_file(Path(file))


def restore(
    file: Path, target: Path | str, now: datetime, force: bool = False, who: Who = KEEPER
) -> dict[str, Any]:
    """Put a back-up in the place of a rack; everybody must sign in again.

    The back-up is checked first. A rack that is there is replaced only with `force`, and
    kept aside.
    """
    require(who, "keep")
    if is_address(target):
        raise _on_a_server(str(target))
    file, target = Path(file), Path(target)
    found = check_backup(file)
    if target.is_dir():
        raise InputError("this is a folder", str(target), "name the file, such as rack.db")
    if target.exists() and target.resolve() == file.resolve():
        raise InputError("this is the back-up itself", str(target), "name the rack's file")
    if target.exists() and not force:
        raise InputError(
            what="there is a file of this name already",
            where=str(target),
            remedy="name another, or add --force: the old one is kept aside",
        )
    aside = files.put_in_place(file, target, now.astimezone(UTC))
    db = open_database(target)
    try:
        with db.write() as connection:
            ended = people.revoke_devices(connection, now)
            people.drop_pairings(connection)
            audit.note(
                connection, "restore", file.name, now, person=who.person, device=who.device,
                after={"devices signed out": ended},
            )  # fmt: skip
    finally:
        db.close()
    return {
        **found, "restored_from": str(file), "file": str(target),
        "kept_aside": None if aside is None else str(aside), "devices_signed_out": ended,
    }  # fmt: skip
