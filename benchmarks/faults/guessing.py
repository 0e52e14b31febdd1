"""Guessing the passphrase from fifteen addresses as fast as it goes, while a newcomer who mistypes twice wants to join.

Two processes serve, and count together. The clock that guesses are counted by goes ten times as fast, so that ten minutes take
one; how long the newcomer takes is real.
"""

from __future__ import annotations

import re
import sys
import threading
import time
from collections import Counter
from contextlib import closing, suppress
from dataclasses import dataclass, field
from http.client import HTTPException
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from benchmarks.faults.connections import sharing
from benchmarks.faults.row import Row

if TYPE_CHECKING:
    from http.client import HTTPConnection

    from benchmarks.faults.connections import Sharing

__all__ = ["run"]

GUESSING = tuple(f"127.0.0.{number}" for number in range(2, 17))
NEWCOMER = "127.0.0.17"
LASTS_S = 600.0
"""How long they guess, by the clock that guesses are counted by [s]."""
PACE, SHORT_PACE = 10.0, 40.0
MOST = 225
"""Guesses judged in that time: five at once and one a minute for each."""
IN_S = 10.0
"""How soon the newcomer is to be in [s]."""
RIGHT = "crate lantern oar"
JUDGED, LET_IN, WAITS = 403, 303, 429
PATIENCE_S = 60.0
TEST = "tests/test_guessing.py::test_fifteen_that_guess_get_225_in_ten_minutes_and_keep_no_newcomer_out"


@dataclass
class Guesser:
    """One address that tries passphrases, on one connection after another, so that both processes hear of it."""

    server: Sharing
    source: str
    answers: Counter[int] = field(default_factory=Counter)

    def work(self, until: threading.Event) -> None:
        """Guess until it is told to stop."""
        while not until.is_set():
            with suppress(OSError, HTTPException), closing(self.server.line(self.source, timeout_s=PATIENCE_S)) as line:
                fields = _form(line)
                for _ in range(20):
                    if until.is_set():
                        return
                    self.answers[_tried(line, fields, f"wrong {self.answers.total()}")] += 1


def _form(line: HTTPConnection) -> tuple[str, str]:
    """Return the token of the form and the cookie that it belongs to."""
    line.request("GET", "/join")
    response = line.getresponse()
    page = response.read().decode()
    return re.findall(r'name="csrf" value="([^"]*)"', page)[0], (response.headers["set-cookie"] or "").partition(";")[0]


def _tried(line: HTTPConnection, fields: tuple[str, str], words: str) -> int:
    """Try a passphrase, and return the status of the answer."""
    body = urlencode({"csrf": fields[0], "passphrase": words})
    line.request("POST", "/join", body, {"Content-Type": "application/x-www-form-urlencoded", "Cookie": fields[1]})
    response = line.getresponse()
    response.read()
    return response.status


def run(*, short: bool = False) -> list[Row]:
    """Guess, join, and return whether that went as promised."""
    pace = SHORT_PACE if short else PACE
    with sharing(pace=pace) as server:
        guessers = [Guesser(server, source) for source in GUESSING]
        until = threading.Event()
        threads = [threading.Thread(target=guesser.work, args=(until,)) for guesser in guessers]
        begun = time.monotonic()
        for thread in threads:
            thread.start()
        time.sleep(LASTS_S / pace / 2)
        joining = time.monotonic()
        with closing(server.line(NEWCOMER, timeout_s=PATIENCE_S)) as line:
            fields = _form(line)
            statuses = [_tried(line, fields, words) for words in ("crate lantern", "crate lantern ore", RIGHT)]
        in_s = time.monotonic() - joining
        time.sleep(max(0.0, LASTS_S / pace - (time.monotonic() - begun)))
        until.set()
        for thread in threads:
            thread.join()
        lasted_s = (time.monotonic() - begun) * pace
    answers = sum((guesser.answers for guesser in guessers), Counter[int]())
    most = MOST + len(GUESSING) * int(max(0.0, lasted_s - LASTS_S) // 60)  # the last answers came after the end
    wrong = [f"{answers[JUDGED]} guesses were judged in {lasted_s:.0f} s, {most} at most"] if answers[JUDGED] > most else []
    wrong += [f"{answers[LET_IN]} guesses let somebody in"] if answers[LET_IN] else []
    wrong += [f"the newcomer was answered {statuses}"] if statuses != [JUDGED, JUDGED, LET_IN] else []
    wrong += [f"the newcomer was in after {in_s:.1f} s"] if in_s > IN_S and not short else []
    told = f"15 addresses, {answers.total():,} guesses in {lasted_s:.0f} s of that clock, {answers[JUDGED]} judged, "
    told += f"{answers[WAITS]:,} told to wait; a newcomer who mistyped twice was in after {in_s:.1f} s"
    return [
        Row(
            "fifteen addresses that guess get 225 guesses in ten minutes and keep no newcomer out",
            TEST,
            told,
            len(wrong),
            tuple(wrong),
        )
    ]


if __name__ == "__main__":
    for row in run(short="--short" in sys.argv):
        print(f"{row.promise}\n    {row.tried}\n    lost: {row.lost}", *row.told, sep="\n    ")
