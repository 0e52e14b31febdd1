"""One look at each page: what it loads, what its console says, what axe-core finds, and how large things are."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]

from pages import visit

if TYPE_CHECKING:
    from playwright.sync_api import Browser, ConsoleMessage, Page, Request, ViewportSize

    from pages import Places

__all__ = ["COLOURS", "DESKTOP", "PHONE", "Finding", "Survey", "Target", "surveyed", "violations"]

DESKTOP: ViewportSize = {"width": 1280, "height": 800}
PHONE: ViewportSize = {"width": 390, "height": 844}
TARGETS = """
() => [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, summary")]
  .filter(each => each.checkVisibility())
  .map(each => {
    const whole = each.closest("label") ?? each, box = whole.getBoundingClientRect(), words = each.closest("p, li, dd");
    const bare = text => text.replace(/[\\s·]/g, "").length;
    const linked = [...words?.querySelectorAll("a, button") ?? []].map(one => one.textContent).join("");
    return {
      name: `${each.localName} ${each.ariaLabel ?? (whole.textContent.trim() || each.name)}`,
      right: box.right, width: box.width, height: box.height, drawn: each instanceof SVGElement,
      leads: each.getAttribute("href") ?? "",
      in_words: each.localName === "a" && !!words && bare(words.textContent) > bare(linked),
    };
  }).filter(each => each.right > 0)  // the link past the head of the page comes in when it has the focus
  .map(({ right, ...rest }) => rest)
"""
COLOURS = ("color-contrast", "link-in-text-block")
"""The rules of axe-core that are about colours."""
Finding = tuple[str, list[str]]
"""A rule and the elements that break it."""


@dataclass(frozen=True)
class Target:
    """Something that can be touched, with its size [px]."""

    name: str
    width: float
    height: float
    drawn: bool
    """Whether it is a part of a drawing."""
    leads: str
    """Where a link leads; "" for anything else."""
    in_words: bool
    """Whether it is a link in a sentence, which WCAG 2.2, 2.5.5 and 2.5.8, leave out."""


@dataclass
class Survey:
    """What one look at a page showed."""

    status: int = 0
    headers: dict[str, str] = field(default_factory=dict)
    loaded: list[tuple[str, int]] = field(default_factory=list)
    """(address, bytes of the answer as sent) of everything that the page asked for."""
    console: list[str] = field(default_factory=list)
    width: int = 0
    """Of all that can be scrolled to on a phone [px]."""
    targets: list[Target] = field(default_factory=list)
    """On a phone."""
    findings: dict[str, list[Finding]] = field(default_factory=dict)
    """What axe-core finds, by size and light."""


def violations(page: Page, *, rules: tuple[str, ...] = ()) -> list[Finding]:
    """Return what axe-core finds wrong, by `rules` alone or by all that it has.

    What it would load beforehand is for sound that plays by itself and for a rule that is off.
    """
    options = {"resultTypes": ["violations"], "preload": False} | ({"runOnly": list(rules)} if rules else {})
    if page.evaluate("typeof axe") == "undefined":
        page.evaluate(Axe().axe_script)
    found: list[dict[str, Any]] = page.evaluate("options => axe.run(options).then(({violations}) => violations)", options)
    return [(each["id"], [f"{node['target']} {node['failureSummary']}" for node in each["nodes"]]) for each in found]


def bytes_of(request: Request) -> int:
    """Return the bytes that came as the answer: none where it has no end, failed, or fails while it is waited for."""
    if request.url.endswith("/changes") or request.failure or request.response() is None:
        return 0
    return request.sizes()["responseBodySize"]


def surveyed(browser: Browser, places: Places, name: str, *, patience_ms: float) -> Survey:
    """Look at a page with nothing kept from earlier visits."""
    context = browser.new_context(viewport=PHONE, has_touch=True)
    context.set_default_timeout(patience_ms)
    page, made = context.new_page(), Survey()
    asked: list[Request] = []

    def note(message: ConsoleMessage) -> None:
        made.console.append(message.text)

    page.on("console", note)
    page.on("pageerror", lambda error: made.console.append(str(error)))
    page.on("request", lambda request: asked.append(request))  # noqa: PLW0108 — the page wants a function of Python
    answer = visit(page, places, name)
    made.status, made.headers = answer.status, answer.headers
    made.width = page.evaluate("document.documentElement.scrollWidth")
    made.targets = [Target(**each) for each in page.evaluate(TARGETS)]
    made.findings["phone, light"] = violations(page)
    page.emulate_media(color_scheme="dark")  # what is no matter of colour is the same in every light
    made.findings["phone, dark"] = violations(page, rules=COLOURS)
    page.set_viewport_size(DESKTOP)
    made.findings["desktop, dark"] = violations(page)
    page.emulate_media(color_scheme="light")
    made.findings["desktop, light"] = violations(page, rules=COLOURS)
    made.loaded = [(request.url, bytes_of(request)) for request in asked]
    context.close()
    return made
