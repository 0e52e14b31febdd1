"""Pictures of the bench in the browser, at the size of a desktop and of a phone, for the README and docs/bench.md.

`python docs/make_screenshots.py` starts the bench with the demo's cases (the invented Lanternfield Autumn Open) on a database of
its own, answers a few trials, and writes docs/pictures/bench/*.png. It needs Chromium, as the browser tests do.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from urllib.error import URLError
from urllib.parse import quote
from urllib.request import urlopen

from PIL import Image
from playwright.sync_api import Page, sync_playwright

FOLDER = Path(__file__).parent / "pictures" / "bench"
PORT = 8719
BASE = f"http://127.0.0.1:{PORT}"
SIZES = {"desktop": (1280, 800), "phone": (390, 844)}
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
COLOURS = 96
"""Colours of a picture; more make it larger and no clearer."""
FAILURE = "left cord B wire, middle: broken in the middle"


def main() -> None:
    """Start the bench, go through it, take the pictures."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "foible", "bench", "--demo", "--no-browse", "--port", str(PORT)]
        server = subprocess.Popen([*command, "--data", f"{folder}/demo.db"], stdout=subprocess.DEVNULL)  # noqa: S603 — our own
        try:
            _wait()
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
                addresses = _played(browser.new_page())
                for size, (width, height) in SIZES.items():
                    page = browser.new_page(viewport={"width": width, "height": height})
                    for name, address in addresses.items():
                        page.goto(BASE + address, wait_until="networkidle")
                        _keep(page.screenshot(), FOLDER / f"{name}-{size}.png")
                dark = browser.new_page(viewport={"width": 390, "height": 844}, color_scheme="dark")
                dark.goto(BASE + addresses["case"], wait_until="networkidle")
                _keep(dark.screenshot(), FOLDER / "case-dark-phone.png")
                browser.close()
        finally:
            server.terminate()
            server.wait(10)


def _played(page: Page) -> dict[str, str]:
    """Open a case from the demo's complaint, answer some trials; return the addresses of all pages worth a picture."""
    page.goto(f"{BASE}/new/foil")
    page.get_by_role("button", name="left fencer: It goes white, and I never hit anything").click()
    case = page.url.removeprefix(BASE)
    for lamp in (None, "left white lamp", "left white lamp"):
        if lamp:
            page.get_by_role("button", name=lamp).click()
        before = page.locator("#board").get_attribute("data-version")
        page.locator("[data-done]").click()
        page.wait_for_function("before => document.getElementById('board').dataset.version !== before", arg=before)
    page.locator(".suspects > ol a").first.click()
    suspect = page.url.removeprefix(BASE).partition("?")[0]
    return {
        "start": "/",
        "new": "/new/foil",
        "case": case,
        "trials": f"{case}/trials",
        "own": f"{case}/own",
        "suspect": suspect,
        "suspect-strip": f"{suspect}?zoom=strip",
        "item": f"{case}/items/{quote('left cord')}",
        "paper": f"{case}/print",
        "what-if": f"/what-if/foil?failure={quote(FAILURE)}",
        "card": "/card/foil",
        "share": "/share",
        "help": "/help",
        "api": "/api",
    }


def _keep(shot: bytes, path: Path) -> None:
    """Write a picture with few colours, which makes it small."""
    Image.open(io.BytesIO(shot)).convert("RGB").quantize(COLOURS).save(path, optimize=True)
    print(path.relative_to(FOLDER.parents[2]), f"{path.stat().st_size // 1024} kB")


def _wait() -> None:
    for _ in range(100):
        try:
            urlopen(f"{BASE}/help").close()  # noqa: S310 — our own server
        except URLError:
            time.sleep(0.2)
        else:
            return


if __name__ == "__main__":
    main()
