"""Pictures of Foible in the browser, at the size of a desktop and of a phone, for the README and docs/browser.md.

`python -m docs.make_screenshots` starts Foible with the demo's cases (the invented Lanternfield Autumn Open) on a database of its
own, answers a few trials, and writes docs/pictures/browser/*.png. It needs Chromium, as the browser tests do.
"""

from __future__ import annotations

import io
import shutil
from pathlib import Path
from urllib.parse import quote

from benchmarks.server import CHROMIUM, served
from PIL import Image
from playwright.sync_api import Page, sync_playwright

FOLDER = Path(__file__).parent / "pictures" / "browser"
SIZES = {"desktop": (1280, 800), "phone": (390, 844)}
COLOURS = 96
"""Colours of a picture; more make it larger and no clearer."""
FAILURE = "left cord B wire, middle: broken in the middle"


def main() -> None:
    """Start Foible, go through it, take the pictures."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    with served("--demo") as base, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=CHROMIUM)
        addresses = _played(browser.new_page(), base)
        for size, (width, height) in SIZES.items():
            page = browser.new_page(viewport={"width": width, "height": height})
            for name, address in addresses.items():
                page.goto(base + address, wait_until="networkidle")
                _keep(page.screenshot(), FOLDER / f"{name}-{size}.png")
        dark = browser.new_page(viewport={"width": 390, "height": 844}, color_scheme="dark")
        dark.goto(base + addresses["case"], wait_until="networkidle")
        _keep(dark.screenshot(), FOLDER / "case-dark-phone.png")
        browser.close()


def _played(page: Page, base: str) -> dict[str, str]:
    """Open a case from the demo's complaint, answer some trials; return the addresses of all pages worth a picture."""
    page.goto(f"{base}/new/foil")
    page.get_by_role("button", name="left fencer: It goes white, and I never hit anything").click()
    page.wait_for_url("**/cases/*")  # the answer is kept on the device first, and sent from there
    case = page.url.removeprefix(base)
    for lamp in (None, "left white lamp", "left white lamp"):
        if lamp:
            page.get_by_role("button", name=lamp).click()
        before = page.locator("#board").get_attribute("data-version")
        page.locator("[data-done]").click()
        page.wait_for_function("before => document.getElementById('board').dataset.version !== before", arg=before)
    page.locator(".suspects > ol a").first.click()
    page.wait_for_url("**/suspects/*")
    suspect = page.url.removeprefix(base).partition("?")[0]
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
        "circuit": "/circuit/foil",
        "circuit-step": "/circuit/foil/on-the-lame",
        "card": "/card/foil",
        "share": "/share",
        "register": "/register",
        "learned": "/register/learned",
        "season": "/register/season",
        "help": "/help",
        "api": "/api",
    }


def _keep(shot: bytes, path: Path) -> None:
    """Write a picture with few colours, which makes it small."""
    Image.open(io.BytesIO(shot)).convert("RGB").quantize(COLOURS).save(path, optimize=True)
    print(path.relative_to(FOLDER.parents[2]), f"{path.stat().st_size // 1024} kB")


if __name__ == "__main__":
    main()
