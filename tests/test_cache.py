"""What stays in memory: the latest used, up to a size."""

from __future__ import annotations

from foible.cache import Cache


def test_what_was_longest_not_asked_for_goes_first() -> None:
    kept: Cache[str, int] = Cache(2)
    kept.put("a", 1)
    kept.put("b", 2)
    assert kept.get("a") == 1
    kept.put("c", 3)
    assert (kept.get("a"), kept.get("b"), kept.get("c")) == (1, None, 3)


def test_sizes_are_added_up_and_the_last_one_stays_however_large() -> None:
    kept: Cache[str, str] = Cache(5, len)
    kept.put("a", "xx")
    kept.put("a", "xxx")
    kept.put("b", "xx")
    assert kept.get("a") == "xxx", "a value put anew counts once"
    kept.put("c", "xxxxxxxxx")
    assert (kept.get("a"), kept.get("b"), kept.get("c")) == (None, None, "xxxxxxxxx")


def test_what_is_dropped_makes_room() -> None:
    kept: Cache[str, str] = Cache(5, len)
    kept.put("a", "xxx")
    kept.put("b", "xx")
    kept.drop("a")
    kept.drop("never there")
    kept.put("c", "xxx")
    assert (kept.get("a"), kept.get("b"), kept.get("c")) == (None, "xx", "xxx")
