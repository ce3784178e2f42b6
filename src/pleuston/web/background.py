"""What runs in the background, put in words for a page."""

from __future__ import annotations

from typing import Any

from pleuston.services.jobs import list_jobs
from pleuston.web.site import Site

OPEN = ("waiting", "running")


def work_of(site: Site, tank: str = "") -> dict[str, Any] | None:
    """How far the open jobs are, of one tank or of all; None where there are none.

    Without workers nothing will be done, so nothing is promised.
    """
    if site.workers is None:
        return None
    jobs = [j for j in list_jobs(site.db) if j["state"] in OPEN and tank in ("", j["tank"])]
    if not jobs:
        return None
    run = [j for j in jobs if j["state"] == "running"]
    names = " and ".join(dict.fromkeys(j["tank"] for j in run))
    waiting = len(jobs) - len(run)
    message = f"Working out {names}" if names else "Waiting for a free process"
    if len(run) == 1 and run[0]["message"]:
        message = f"{message}: {run[0]['message']}"
    if waiting:
        message += f"; {waiting} more to go"
    done = sum(j["progress"] for j in run) / max(len(run), 1)
    return {"message": message, "progress": round(done, 3), "open": len(jobs), "tank": tank}
