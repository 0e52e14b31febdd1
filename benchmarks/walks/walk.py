"""A rehearsal in, its walk through the pages out: what was asked and said, and how many taps it took to the act and to the end.

The thumb follows the page as a new user would: it opens a case from the start page, does what is asked and says what came of it,
and as soon as the page names something to do, it says that this was done. Then it makes the proof line by line. Where a line
fails, the case goes on from there. What is seen is worked out by the rehearsal's own oracle, which knows what is wrong.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs
from zlib import crc32

import numpy as np

from benchmarks.rehearsal.oracle import Oracle
from benchmarks.rehearsal.patterns import Step
from benchmarks.walks.thumb import Thumb
from foible.kit import load_setup
from foible.trials import Trial, TrialTable, load_catalogue, read_trial

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from benchmarks.rehearsal.scenario import Scenario
    from foible.kit import Weapon

__all__ = ["STEADY", "WALKED", "Walk", "walked"]

STEADY = (
    "foil-wire-off-at-the-socket",
    "foil-lame-dead-patch",
    "foil-clip-off",
    "epee-apparatus-input-dead",
    "sabre-paint-under-the-blade",
    "epee-bench-thin-shim",
)
"""Rehearsals of a fault that is there all the time."""
WALKED = (
    *STEADY,
    "foil-cord-breaks-under-pull",
    "foil-grip-nut-loose-in-the-parry",
    "foil-tape-worn",
    "sabre-guard-lining-worn",
    "foil-white-does-not-come-back",
)
"""Rehearsals that are walked: those, and others of a fault that comes and goes, or that nobody sees at rest."""
MOST_TRIALS = 25
"""A walk ends here at the latest, without an ending."""


@dataclass
class Walk:
    """One walk."""

    scenario: str
    seed: int
    steps: list[str] = field(default_factory=list)
    """What was asked or done, and what was said."""
    trials: int = 0
    acts: list[tuple[int, str]] = field(default_factory=list)
    """What was put right or how it ended, each with the taps up to it."""
    lines: int = 0
    """Lines of the proof that were ticked after the last act."""
    taps: int = 0
    ending: str = ""

    @property
    def to_act(self) -> int:
        """Taps to the act that held."""
        return self.acts[-1][0] if self.acts else self.taps

    @property
    def to_close(self) -> int:
        """Taps from then on, the act's own among them, besides one for each line of the proof."""
        return self.taps - self.to_act + 1 - self.lines


def walked(page: Page, url: str, scenario: Scenario, seed: int) -> Walk:
    """Walk a rehearsal on a page, from the start page of a server to the end of the case."""
    page.goto(url)
    walker = _Walker(page, url, scenario, seed)
    walker.opened()
    walker.followed()
    walker.walk.taps = walker.thumb.taps
    return walker.walk


class _Walker:
    """The walk that is under way: the page, the truth, and the trial made last."""

    def __init__(self, page: Page, url: str, scenario: Scenario, seed: int) -> None:
        self.page, self.url, self.scenario = page, url, scenario
        self.thumb = Thumb(page)
        self.walk = Walk(scenario.id, seed)
        self.setup = load_setup(scenario.weapon)
        self.catalogue = {idea.say: idea for idea in load_catalogue(self.setup)}
        self.oracle = Oracle(scenario, self.setup, np.random.default_rng([seed, crc32(scenario.id.encode())]))
        self.last: Trial | None = None

    def opened(self) -> None:
        """Open the case: where the kit is and what is said; what is not at hand is said when it is asked for."""
        thumb, page, scenario = self.thumb, self.page, self.scenario
        thumb.tap(page.get_by_role("link", name=f"{scenario.weapon} new case"))
        if scenario.place == "bench":
            thumb.tap(page.get_by_text("on the bench", exact=True))
        self._said()
        page.locator("#board").wait_for()

    def _said(self) -> None:
        first = TrialTable.model_validate(self.scenario.start[0])
        if self.scenario.complaint_is_foibles:
            who = "this is said" if self.scenario.place == "bench" else f"{self.scenario.side} fencer"
            self.thumb.tap(self.thumb.button(f"{who}: {self.scenario.complaint}"))
        elif first.gauge and first.found == ("fails",):
            self.thumb.tap(self.thumb.button(f"fails the {first.gauge.split(' ', 1)[1]}"))
        self.last, _ = read_trial(self.setup, first)

    @property
    def case(self) -> dict[str, Any]:
        """The case as it stands."""
        name = self.page.locator("#board").get_attribute("data-case")
        answer = self.page.request.get(f"{self.url}/api/cases/{name}?top=50")
        told: dict[str, Any] = answer.json()
        return told

    def followed(self) -> None:
        """Follow the page to the end of the case."""
        while self.walk.trials < MOST_TRIALS:
            if self.thumb.button("reopen case").count():
                self.walk.ending = self.thumb.asked
                return
            if self.page.locator(".proving").count():
                self._prove()
            elif self.page.locator(".act").count():
                self._act()
            else:
                self._answer(self.thumb.say)

    # --- trials ---------------------------------------------------------------------------------------------------

    def _answer(self, say: str) -> None:
        if self._lacks(say):
            return
        table = self._asked(say)
        answer = self._made(table)
        if answer.get("found") == ["fine"] and self._looked_over(say):
            return
        if "saw" in answer and self._followed_down(say, answer):
            return
        self._told(say, answer)

    def _lacks(self, say: str) -> bool:
        """Say that there is no spare, where one is asked for and there is none; return whether it was said."""
        button = self.thumb.button("no spare here")
        if "spare" in self.scenario.tools or not button.count():
            return False
        self.thumb.changes(button)
        self.walk.steps.append(f"{say} → no spare here")
        return True

    def _told(self, say: str, answer: dict[str, Any]) -> None:
        """Say what a trial has shown."""
        thumb, told = self.thumb, next(iter(answer.values()))
        self.walk.trials += 1
        match next(iter(answer)):
            case "saw":
                thumb.saw(told, self.setup.kind)
            case "reads":
                thumb.reads(told)
            case "lights":
                thumb.lit(told)
            case _:
                thumb.found(told)
        self.walk.steps.append(f"{say} → {told if isinstance(told, str) else ', '.join(told)}")

    def _looked_over(self, say: str) -> bool:
        """Look at what may as well be looked at, where the page asks for it; return whether all of it is answered."""
        over = self.page.locator("button[name=also_fine]")
        if not over.count():
            return False
        besides = (over.get_attribute("value") or "").split("|")
        for each in besides:
            answer = self._made(self._asked(each))
            if answer["found"] != ["fine"]:
                link = self.page.locator(".over a").nth(besides.index(each))
                self.thumb.tap(link)
                self.page.locator(f"form[data-answer='{each.replace(chr(39), chr(92) + chr(39))}']").wait_for()
                self._told(each, answer)
                return True
        self.thumb.changes(over)
        self.walk.trials += 1 + len(besides)
        self.walk.steps.append(f"{'; '.join([say, *besides])} → all fine")
        return True

    def _followed_down(self, say: str, answer: dict[str, Any]) -> bool:
        """Follow a line down to the apparatus, where the page asks for it; return whether one button says what was seen.

        That is so where each joint up to one shows the same as the trial that was asked for, and that one what sound kit shows.
        """
        joints = self.page.locator(".joints li")
        if not joints.count():
            return False
        here = self.page.locator(".joints li button")
        says = [(each.get_attribute("aria-label") or "").removeprefix("first here: ") for each in here.all()]
        last, seen = self.last, [answer]
        before = parse_qs(here.first.get_attribute("value") or "", keep_blank_values=True)
        broken, through = (set(parse_qs(before[key][0])) for key in ("broken", "last"))
        if _touched(answer, self.setup.kind) != broken:
            return False
        for number, each in enumerate(says):
            seen.append(self._made(self._asked(each)))
            if _touched(seen[-1], self.setup.kind) == through:
                self.thumb.changes(here.nth(number))
                break
            if _touched(seen[-1], self.setup.kind) != broken:
                self.last = last  # it is none of the buttons: the trial that was asked for is answered by itself
                return False
        else:
            self.thumb.changes(self.page.locator(".joints > button"))
        self.walk.trials += len(seen)
        told = ", ".join(next(iter(seen[-1].values())))
        self.walk.steps.append(f"{'; '.join([say, *says[: len(seen) - 1]])} → at the last {told}")
        return True

    def _asked(self, say: str) -> TrialTable:
        """Return the trial that a sentence asks for: one of the catalogue, or one made up for this case."""
        if say in self.catalogue:
            return self.catalogue[say].table
        offered = {each["say"]: each["trial"] for each in self.case["diagnosis"]["next"]}
        return TrialTable.model_validate(offered[say])

    def _made(self, table: TrialTable) -> dict[str, Any]:
        """Make a trial with whatever is exchanged and mended by now; return what it shows."""
        before = self.last
        if before is not None:
            kept = {key: tuple(dict.fromkeys((*getattr(before, key), *getattr(table, key)))) for key in ("swapped", "mended")}
            kept["mended"] = tuple(dict.fromkeys((*kept["mended"], *self._parts(kept["mended"]))))
            table = table.model_copy(update=kept)
        trial, _ = read_trial(self.setup, table, answered=False)
        self.last = trial
        return self.oracle.answer(Step(trial, before))

    def _parts(self, mended: tuple[str, ...]) -> tuple[str, ...]:
        """Return the parts that repairs put right."""
        return tuple(failure.part for failure in self.setup.failures.values() if failure.job in mended)

    # --- the end --------------------------------------------------------------------------------------------------

    def _act(self) -> None:
        """Do what the band says, and say so: its first button."""
        words = self.page.locator(".act > .lead").first.inner_text()
        button = self.page.locator(".deeds button").first
        closes = "/ending" in (button.locator("xpath=ancestor::form").get_attribute("action") or "")
        self.thumb.changes(button)
        self.walk.acts.append((self.thumb.taps, words))
        self.walk.lines = 0
        self.walk.steps.append(words)
        if not closes:
            acted = next(entry["trial"] for entry in reversed(self.case["entries"]) if entry["kind"] == "trial")
            self.last, _ = read_trial(self.setup, TrialTable.model_validate(acted))

    def _prove(self) -> None:
        """Make the next line of the proof, or close the case where all have passed."""
        proof = self.case["proof"]
        line = next((each for each in proof["lines"] if each["state"] == "open"), None)
        if line is None:
            self.thumb.tap(self.page.locator(".ask form[action$='/ending'] button").first)
            self.thumb.button("reopen case").wait_for()
            return
        number = proof["lines"].index(line) + 1
        if all(self._passes(self._asked_in_proof(say), line["shows"]) for say in line["trials"] for _ in range(line["times"])):
            self.thumb.changes(self.thumb.button(f"passed, line {number}"))
            self.walk.lines += 1
            self.walk.steps.append(f"{line['say']} → passed")
        else:
            self.thumb.tap(self.page.get_by_label(f"failed, line {number}").first)
            self.walk.steps.append(f"{line['say']} → failed")
            self.page.locator("form[data-answer]").wait_for()

    def _asked_in_proof(self, say: str) -> TrialTable:
        return self._asked(say)

    def _passes(self, table: TrialTable, shows: str) -> bool:
        """Make one trial of a line; return whether it shows what it must."""
        answer = self._made(table)
        told = next(iter(answer.values()))
        if "reads" in answer:
            return _within(told, shows)
        return _lit(told) == _lit(shows.split(", "))


def _lit(phrases: list[str]) -> set[str]:
    """Return what is lit or found, as a set of phrases: a lamp that stayed dark is not."""
    return {re.sub(r" lit$", "", phrase) for phrase in phrases if not re.search(r"\bno(thing)?\b", phrase)}


def _touched(answer: dict[str, Any], weapon: Weapon) -> set[str]:
    """Return the lamps that a report says were lit steadily, as the fields of a form; another report fits no button."""
    words = {lamp.kind: lamp.word for lamp in weapon.lamps}
    lit = [phrase.split(" ") for phrase in answer["saw"] if not re.search(r"\bno(thing)?\b", phrase)]
    return {f"{side}_{words.get(lamp, lamp)}{''.join(manner)}" for side, lamp, *manner in lit}


def _within(reading: str, shows: str) -> bool:
    """Return whether a reading is the one that a line must show: open, or under the upper of its values."""
    if "open" in (reading, shows):
        return reading == shows
    return " to " not in reading and float(reading) < float(shows.removesuffix(" Ω").split(" ")[-1])
