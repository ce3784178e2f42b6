"""An app in little: workers on a database until it is stopped or killed. A program of its own."""

from __future__ import annotations

import signal
import sys
import time

from tests.services.jobs_rack import FEW, NOW

from pleuston.services.jobs import Workers

if __name__ == "__main__":
    signal.signal(signal.SIGTERM, lambda *_: sys.exit())
    workers = Workers(sys.argv[1], 1, effort=FEW, clock=lambda: NOW, upkeep=False)
    workers.start()
    try:
        while True:
            time.sleep(0.05)
    finally:
        workers.stop()
