"""What a page weighs and how long it takes in Chromium, how long an answer takes until it is drawn, and a tap until it shows.

`python -m benchmarks.pages` prints a table. Times are of this machine in this run; the peer is the help page, which reasons about
nothing, and for a tap under a slow network two frames in which nothing happens. Beside each wall time stands what the server used
of a processor meanwhile, and above all of them how busy the machine is: with others at work only the CPU tells what a page costs.
"""

from __future__ import annotations

import shutil
from statistics import median
from typing import TYPE_CHECKING
from urllib.parse import quote

from playwright.sync_api import sync_playwright

from benchmarks.cpu import Cpu, load_average
from benchmarks.server import CHROMIUM, served

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

WARMING_S = 25.0
"""Until the server has worked out ahead of time what it can [s]."""
LOADS = 5
ANSWERS = 8
DRAWN = """() => new Promise((done) => {
  const before = document.getElementById("board").dataset.version;
  const start = performance.now();
  const look = () => document.getElementById("board").dataset.version === before
    ? requestAnimationFrame(look) : requestAnimationFrame(() => done(performance.now() - start));
  document.querySelector("[data-answer] button[data-done], [data-answer] .signs button, .verdicts button").click();
  look();
})"""
SLOW_MS = 2500
"""How long the slow network keeps each request [ms]."""
SIGN = """(tap) => new Promise((done) => {
  const button = document.querySelector("[data-answer] button[data-done], [data-answer] .signs button");
  const start = performance.now();
  if (tap) button.click();
  requestAnimationFrame(() => requestAnimationFrame(() =>
    done([performance.now() - start, button.classList.contains("tapped")])));
})"""
"""Tells how long it takes until two frames are drawn [ms], and whether the button shows by then that it was tapped."""


def main() -> None:
    """Start the server and measure."""
    print(load_average())
    with served("--demo", warming_s=WARMING_S) as base, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=CHROMIUM)
        _measure(browser, base)
        browser.close()


def _measure(browser: Browser, base: str) -> None:
    cpu, page = Cpu(base), browser.new_page()
    page.goto(f"{base}/new/foil")
    page.get_by_role("button", name="left fencer: It goes white, and I never hit anything").click()
    page.wait_for_load_state("networkidle")
    case = page.url.removeprefix(base)
    answers, used = [], []
    for _ in range(ANSWERS):
        before = cpu.spent_ms()
        answers.append(float(page.evaluate(DRAWN)))
        used.append(cpu.spent_ms() - before)
        page.wait_for_timeout(500)
    _measure_signs(page)
    ticks = _ticks(page)
    page.locator(".suspects > ol a").first.click()
    suspect = page.url.removeprefix(base).partition("?")[0]
    addresses = {
        "help (the peer)": "/help",
        "start": "/",
        "new case": "/new/foil",
        "case": case,
        "another trial": f"{case}/trials",
        "something else": f"{case}/own",
        "suspect": suspect,
        "item": f"{case}/items/{quote('left cord')}",
        "on paper": f"{case}/print",
        "what if": "/what-if/foil",
        "field card": "/card/foil",
    }
    rows = {name: _loaded(browser, base + address, cpu) for name, address in addresses.items()}
    peer = rows["help (the peer)"][0]
    print(f"{'page':<20}{'loaded [ms]':>14}{'ratio':>8}{'server’s CPU [ms]':>20}{'weight [kB]':>14}")
    for name, (took, spent, weight) in rows.items():
        print(f"{name:<20}{took:>14.0f}{took / peer:>8.1f}{spent:>20.0f}{weight / 1000:>14.0f}")
    print(
        f"an answer, drawn again: median {median(answers):.0f} ms, longest {max(answers):.0f} ms of {len(answers)}; "
        f"the server’s CPU: median {median(used):.0f} ms, most {max(used):.0f} ms"
    )
    print(load_average())
    print(f"a line of a proof, drawn again: {', '.join(f'{each:.0f}' for each in ticks)} ms")


def _measure_signs(page: Page) -> None:
    """Print how soon a tap shows while every request takes long, beside two frames without one."""
    network = page.context.new_cdp_session(page)
    slow = {"offline": False, "latency": SLOW_MS, "downloadThroughput": -1, "uploadThroughput": -1}
    network.send("Network.enable")
    network.send("Network.emulateNetworkConditions", slow)
    still, _ = page.evaluate(SIGN, arg=False)
    tapped, shows = page.evaluate(SIGN, arg=True)
    assert shows
    print(f"a tap with {SLOW_MS} ms of network delay shows after {tapped:.0f} ms; two frames take {still:.0f} ms")
    network.send("Network.emulateNetworkConditions", {**slow, "latency": 0})
    page.wait_for_function("() => !document.querySelector('.under-way, .tapped')")
    page.wait_for_timeout(500)


def _ticks(page: Page) -> list[float]:
    """Exchange what is suspected most and pass the lines of its proof; return how long each takes to be drawn again [ms]."""
    page.evaluate("document.querySelectorAll('.ask details').forEach((each) => { each.open = true; })")
    page.locator("form[action$='/acts'] button").first.click()  # the first of all may end the case
    page.locator(".proving").wait_for()
    times = []
    for _ in range(page.locator(".verdicts button[value=passed]").count()):
        page.wait_for_timeout(500)
        times.append(float(page.evaluate(DRAWN)))
    return times


def _loaded(browser: Browser, address: str, cpu: Cpu) -> tuple[float, float, int]:
    """Return the median time until a page is loaded, with an empty cache [ms], the server’s CPU meanwhile [ms], and its weight.

    The CPU is the least of all loads, as the server may work ahead meanwhile; the weight is what comes over the line [byte].
    """
    times, weights, used = [], [], []
    for _ in range(LOADS):
        context = browser.new_context(viewport={"width": 1280, "height": 800})
        page: Page = context.new_page()
        before = cpu.spent_ms()
        page.goto(address, wait_until="load")
        used.append(cpu.spent_ms() - before)
        times.append(float(page.evaluate("performance.getEntriesByType('navigation')[0].loadEventEnd")))
        weights.append(
            int(
                page.evaluate(
                    "performance.getEntriesByType('resource').concat(performance.getEntriesByType('navigation'))"
                    ".reduce((sum, entry) => sum + entry.transferSize, 0)"
                )
            )
        )
        context.close()
    return median(times), min(used), max(weights)


if __name__ == "__main__":
    main()
