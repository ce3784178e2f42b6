"""Makes docs/pictures/app.png: the demo rack's tanks at a desk, and one of them on a phone.

`python tools/picture.py` serves the demo rack, waits until it is worked out, and looks at it
with the Chromium of this machine.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parents[1]
TARGET = ROOT / "docs" / "pictures" / "app.png"
CHROMIUM = "/usr/bin/chromium"
QUIET = ["--no-sandbox", "--disable-quic", "--disable-background-networking",
         "--disable-component-update", "--disable-sync", "--no-first-run"]  # fmt: skip
PORT = "8791"
NOTE = "Invented demo rack: its tanks, readings and people are made up."


def main() -> None:
    """Serve, wait, look, put side by side."""
    command = [str(Path(sys.executable).with_name("pleuston"))]
    with tempfile.TemporaryDirectory() as folder:
        rack = str(Path(folder) / "demo.db")
        subprocess.run([*command, "demo", rack, "--this-week"], check=True)
        subprocess.run([*command, "refresh", rack], check=True)
        serving = subprocess.Popen(
            [*command, "serve", rack, "--port", PORT, "--workers", "0", "--note", NOTE]
        )
        try:
            time.sleep(4.0)
            pictures = look(f"http://127.0.0.1:{PORT}")
        finally:
            serving.terminate()
            serving.wait(20)
    side_by_side(pictures).save(TARGET, optimize=True)
    print(f"{TARGET}: {TARGET.stat().st_size / 1000:.0f} kB")


def look(address: str) -> list[Image.Image]:
    """The list at a desk, and a tank's outlook on a phone."""
    views = (("/", 1180, 860), ("/t/Dogwood/outlook?quantity=oxygen_dawn", 400, 860))
    found: list[Image.Image] = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        for path, width, height in views:
            page = browser.new_page(viewport={"width": width, "height": height})
            page.goto(address + path, wait_until="load")
            page.wait_for_timeout(800)
            found.append(Image.open(io.BytesIO(page.screenshot())))
        browser.close()
    return found


def side_by_side(pictures: list[Image.Image], gap: int = 24) -> Image.Image:
    """Pictures of one height beside each other, with few colours so that the file stays small."""
    width = sum(p.width for p in pictures) + gap * (len(pictures) + 1)
    height = max(p.height for p in pictures) + 2 * gap
    sheet = Image.new("RGB", (width, height), "#c9d2cb")
    left = gap
    for picture in pictures:
        sheet.paste(picture, (left, gap))
        left += picture.width + gap
    return sheet.quantize(96, dither=Image.Dither.NONE)


if __name__ == "__main__":
    main()
