"""Rule profiles: those shipped against the rulebook, and those of one's own."""

from __future__ import annotations

import math
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from foible.apparatus import Gap, load_profile, profile_names
from foible.errors import ProblemsError, UnknownNameError
from foible.kit import load_setup
from kit_files import assert_as_marked, kit_folder


def test_the_shipped_profiles_keep_to_annex_b() -> None:
    """FIE Material Rules (Book 3), August 2026, Annex B.

    A.1(b)4: no white for a rise of up to 200 Ω; A.1(b)2: valid hit with up to 500 Ω; A.2: yellow below 450 Ω, not above 475 Ω;
    A.1(b)6 foresees apparatus with anti-blocking and without.
    """
    modern, older = (load_profile(name) for name in ("fie-2026-foil", "no-anti-blocking-foil"))
    for profile in (modern, older):
        assert profile.gap("loop").closed_to >= 200
        assert profile.gap("target").closed_to >= 500
        assert 450 <= profile.gap("leak").closed_to < profile.gap("leak").open_from <= 475
    assert modern.anti_blocking
    assert not older.anti_blocking
    assert load_setup("foil").profile == modern.name


def test_within_a_gap_the_chance_rises_with_the_logarithm() -> None:
    """Closed for sure up to 100 Ω, open for sure from 10 000 Ω: at the geometric mean, 1000 Ω, either is as likely."""
    chances = Gap(100.0, 10_000.0).chance_open(np.array([0.0, 100.0, 1000.0, 10_000.0, math.inf]))
    assert chances.tolist() == pytest.approx([0.0, 0.0, 0.5, 1.0, 1.0])
    steps = Gap(100.0, 10_000.0).chance_open(np.geomspace(50, 20_000, 40))
    assert (np.diff(steps) >= 0).all()


def profile_text() -> str:
    """Return the shipped profile."""
    return (Path(str(files("foible.apparatus") / "data")) / "fie-2026-foil.toml").read_text(encoding="utf-8")


def test_a_profile_of_ones_own_is_looked_at_first(tmp_path: Path) -> None:
    text = profile_text()
    kit_folder(
        tmp_path,
        {
            "profiles/fie-2026-foil.toml": text.replace("closed_to = 200 ", "closed_to = 250 "),
            "profiles/lanternfield.toml": text.replace('"fie-2026-foil"', '"lanternfield"'),
        },
    )
    assert load_profile("fie-2026-foil", [tmp_path]).gap("loop") == Gap(265.0, 2000.0)
    assert load_profile("lanternfield", [tmp_path]).name == "lanternfield"
    assert load_profile("fie-2026-foil").gap("loop") == Gap(215.0, 2000.0)
    assert set(profile_names([tmp_path])) - set(profile_names()) == {"lanternfield"}


def test_an_unknown_profile_is_refused_with_a_near_one() -> None:
    with pytest.raises(UnknownNameError, match="rule profile called “fie-2025-foil” — did you mean “fie-2026-foil”"):
        load_profile("fie-2025-foil")


def test_a_profile_whose_gap_is_upside_down_is_refused_at_its_header(tmp_path: Path) -> None:
    text = profile_text().replace("open_from = 475 ", "open_from = 460 ").replace("[leak]", "[leak] # <- must lie above;")
    overlay = kit_folder(tmp_path, {"profiles/odd.toml": text.replace("kit = 20", "kit = -1 # <- kit: input should be")})
    with pytest.raises(ProblemsError) as caught:
        load_profile("odd", [overlay])
    assert_as_marked(list(caught.value.problems), overlay)
