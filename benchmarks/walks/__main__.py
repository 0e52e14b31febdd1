"""`python -m benchmarks.walks` walks eleven rehearsals through the pages on a phone, from the start page to the end of each case.

It prints what was asked and said, and a table of trials and taps. The seeds are fixed, so that a walk comes out alike each time.
"""

from __future__ import annotations

import argparse
import shutil
from typing import TYPE_CHECKING

from playwright.sync_api import expect, sync_playwright

from benchmarks.rehearsal.__main__ import OWN
from benchmarks.rehearsal.scenario import scenarios
from benchmarks.server import CHROMIUM, served
from benchmarks.walks.walk import STEADY, WALKED, Walk, walked

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PHONE = (390, 844)
WARMING_S = 25.0
"""Until the server has worked out ahead of time what it can [s]."""
PATIENCE_MS = 15_000
"""How long anything may take [ms]."""


def main() -> None:
    """Walk, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="", help="walk rehearsals whose id holds this")
    parser.add_argument("--seeds", type=int, default=1)
    given = parser.parse_args()
    known = {scenario.id: scenario for scenario in scenarios(OWN)}
    walks = []
    expect.set_options(timeout=PATIENCE_MS)
    with served(warming_s=WARMING_S) as url, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=CHROMIUM)
        for name in (each for each in WALKED if given.only in each):
            for seed in range(given.seeds):
                page = _phone(browser)
                walks.append(walked(page, url, known[name], seed))
                page.context.close()
                print(f"{name}, seed {seed}: {walks[-1].ending}", *walks[-1].steps, sep="\n    ", flush=True)
        browser.close()
    print(_table(walks))


def _phone(browser: Browser) -> Page:
    context = browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]}, has_touch=True, is_mobile=True)
    context.set_default_timeout(PATIENCE_MS)
    return context.new_page()


def _table(walks: list[Walk]) -> str:
    rows = [
        "| rehearsal | seed | steady | trials | acts | taps to the act | taps from it to closed, besides lines | lines | ending |"
    ]
    rows.append("| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for walk in walks:
        steady = "yes" if walk.scenario in STEADY else "no"
        figures = (walk.trials, len(walk.acts), walk.to_act, walk.to_close, walk.lines)
        rows.append(f"| {walk.scenario} | {walk.seed} | {steady} | {' | '.join(map(str, figures))} | {walk.ending} |")
    return "\n".join(rows)


if __name__ == "__main__":
    main()
