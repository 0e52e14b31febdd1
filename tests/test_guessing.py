"""Guessing the passphrase: how many guesses there are, who may make them, and that nobody else is kept out by them."""

from __future__ import annotations

import math
import os
import time
from typing import TYPE_CHECKING

import pytest
from itsdangerous import TimestampSigner

from foible.errors import InputError
from foible.web.guesses import Guesses
from foible.web.sessions import _Patient
from foible.web.settings import COUNT, WORDS, Passphrase

if TYPE_CHECKING:
    from collections.abc import Callable

NEWCOMER = "192.0.2.200"


def played(seconds: int, tries: Callable[[Guesses, int], None]) -> None:
    """Go through some seconds of a clock, and try what is to be tried in each."""
    now = 0.0
    guesses = Guesses(lambda: now)
    for second in range(seconds):
        now = float(second)
        tries(guesses, second)


def test_a_made_passphrase_has_more_than_forty_bits() -> None:
    assert math.log2(len(set(WORDS))) * COUNT > 40
    assert set(Passphrase.made().split()) <= set(WORDS)


def test_a_hit_within_a_month_of_guessing_by_everybody_is_less_likely_than_one_in_a_million() -> None:
    """As docs/browser.md says: 1,000 at once and 1,000 an hour, among as many as there are."""
    assert (1_000 + 1_000 * 24 * 31) / len(set(WORDS)) ** COUNT < 1e-6


@pytest.mark.parametrize("words", ["a", "short", "password1234", "aaaaaaaaaaaaaaaa", "123456123456", "Qwerty Qwerty"])
def test_a_passphrase_that_is_soon_guessed_is_refused(words: str) -> None:
    with pytest.raises(InputError, match=r"the passphrase .* — give three or four words"):
        Passphrase.check(words)


def test_one_of_a_few_words_is_taken() -> None:
    Passphrase.check("crate lantern oar")


def test_fifteen_that_guess_get_225_in_ten_minutes_and_keep_no_newcomer_out() -> None:
    judged, let_in = 0, []

    def tries(guesses: Guesses, second: int) -> None:
        nonlocal judged
        judged += sum(guesses.wait(f"192.0.2.{number}") == 0 for number in range(15))
        if second in (300, 303, 306):  # mistypes twice, then has it right
            let_in.append(guesses.wait(NEWCOMER) == 0)

    played(600, tries)
    assert judged <= 225
    assert let_in == [True] * 3


def test_everybody_together_has_a_thousand_an_hour() -> None:
    judged = 0

    def tries(guesses: Guesses, second: int) -> None:
        nonlocal judged
        judged += sum(guesses.wait(f"198.51.{second}.{number}") == 0 for number in range(25))

    played(60, tries)
    assert judged == 1_000 + 59 * 1_000 // 3_600


def test_a_subscriber_of_ipv6_is_one() -> None:
    guesses = Guesses(lambda: 0.0)
    assert [guesses.wait(f"2001:db8::{number}") for number in range(6)] == [0] * 5 + [60]
    assert guesses.wait("2001:db8:0:1::1") == 0


def test_whoever_has_it_right_has_the_whole_budget_again() -> None:
    guesses = Guesses(lambda: 0.0)
    for _ in range(5):
        assert guesses.wait(NEWCOMER) == 0
    assert guesses.wait(NEWCOMER) == 60
    guesses.right(NEWCOMER)
    assert guesses.wait(NEWCOMER) == 0


@pytest.mark.skipif(not hasattr(os, "fork"), reason="one process serves where there is no fork")
def test_processes_count_together() -> None:
    guesses = Guesses(lambda: 0.0)
    for _ in range(3):
        child = os.fork()
        if not child:
            os._exit(0 if guesses.wait(NEWCOMER) == 0 else 1)
        assert os.waitpid(child, 0)[1] == 0
    assert [guesses.wait(NEWCOMER) for _ in range(3)] == [0, 0, 60]


def test_a_clock_put_back_ends_no_session(monkeypatch: pytest.MonkeyPatch) -> None:
    now = time.time()
    monkeypatch.setattr(TimestampSigner, "get_timestamp", lambda _: int(now + 3_600))
    signed = _Patient("key").sign("session")
    monkeypatch.undo()
    assert _Patient("key").unsign(signed, max_age=60) == b"session"
