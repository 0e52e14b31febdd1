"""The command: what it prints, how it refuses, how a conversation is kept."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from typing import TYPE_CHECKING

import pytest

from command import CASE, ROOT, foible, foible_apart, said
from foible.services.reasoning import Reasoning
from foible.trials import TrialTable
from usual import PUBLISHED, REASONING, published_score

if TYPE_CHECKING:
    from pathlib import Path


class TestDiagnose:
    def test_names_suspects_item_what_to_do_now_and_reason(self) -> None:
        result = foible_apart("diagnose", CASE)
        assert result.returncode == 0
        assert "right cord A wire at the clip" in said(result)
        assert "item: right cord" in said(result)
        assert "now: exchange the right cord" in said(result)
        assert "The path from line B to line A on the right is cut at the right cord A wire at the clip" in said(result)

    def test_json_has_the_documented_keys_and_nothing_else(self) -> None:
        """docs/json.md lists the keys of foible.diagnosis/2."""
        data = json.loads(foible("diagnose", CASE, "--json", "--top", "3").stdout)
        documented = (ROOT / "docs" / "json.md").read_text(encoding="utf-8").split("## `foible.diagnosis/2`")[1].split("## ")[0]
        assert data["schema"] == "foible.diagnosis/2"
        for key in data:
            assert f"`{key}" in documented or key == "schema"
        for entry in (*data["suspects"], *data["items"], *data["next"]):
            for key in entry:
                assert f"`{key}`" in documented, key
        assert len(data["suspects"]) == len(data["items"]) == len(data["next"]) == 3
        assert sum(entry["probability"] for entry in data["items"]) <= 1 + data["two_at_once"]
        assert data["items"][0] == {"item": "right cord", "probability": pytest.approx(0.99, abs=0.02), "exchange_s": 40.0}

    @pytest.mark.slow
    def test_a_next_trial_of_the_json_can_be_put_into_a_case_file(self, tmp_path: Path) -> None:
        data = json.loads(foible("diagnose", CASE, "--json").stdout)
        trial = data["next"][0]["trial"]
        lines = "\n".join(f"{key} = {json.dumps(value)}" for key, value in trial.items())
        path = tmp_path / "case.toml"
        answer = 'found = "fine"' if "examine" in trial else 'saw = "nothing"'
        path.write_text(f'weapon = "foil"\n[[trial]]\n{lines}\n{answer}\n', encoding="utf-8")
        assert foible("diagnose", path).returncode == 0

    @pytest.mark.slow
    def test_without_spares_no_known_good_item_is_offered(self) -> None:
        """The other fencer's may be borrowed: common practice, no source."""
        data = json.loads(foible("diagnose", CASE, "--json", "--tools", "none", "--top", "50").stdout)
        assert data["next"]
        borrows = re.compile(r"exchange the (left|right) .+ for the (?!\1)(left|right) fencer's and ")
        for entry in data["next"]:
            assert "swapped" not in entry["trial"] or borrows.match(entry["say"])
            assert "known-good" not in entry["say"]


REFUSALS = {
    "unknown part": ('[[trial]]\nmended = ["left weapon pont seat"]\nsaw = "nothing"', "left weapon point seat"),
    "pins that do not exist": ('[[trial]]\nbridged = ["left weapon plug A-B"]\nsaw = "nothing"', "no pin “A”"),
    "contradictory lamps": ('[[trial]]\nsaw = ["left white", "left coloured"]', "contradict each other on the left"),
    "empty case": ("", "no trials"),
    "no TOML": ("[[trial\n", "not TOML"),
    "unknown key": ('[[trial]]\nsaww = "nothing"', "saww"),
}


class TestRefusals:
    @pytest.mark.parametrize("name", REFUSALS)
    def test_are_one_clear_message_with_file_and_remedy_and_no_traceback(self, name: str, tmp_path: Path) -> None:
        body, expected = REFUSALS[name]
        path = tmp_path / "case.toml"
        path.write_text(f'weapon = "foil"\n{body}\n', encoding="utf-8")
        result = foible("diagnose", path)
        assert result.returncode == 2
        assert result.stdout == ""
        assert expected in result.stderr
        assert str(path) in result.stderr
        assert " — " in result.stderr
        assert "Traceback" not in result.stderr

    def test_a_binary_file_is_refused(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        path.write_bytes(b"\x7fELF\0\0\1")
        result = foible_apart("diagnose", path)
        assert result.returncode == 2
        assert "not a text file" in result.stderr

    @pytest.mark.slow
    def test_a_missing_file_a_missing_folder_and_an_unknown_failure_are_refused(self, tmp_path: Path) -> None:
        for arguments in (("diagnose", tmp_path / "no.toml"), ("score", tmp_path / "no"), ("lamps", "left cord clip bit")):
            result = foible(*arguments)
            assert result.returncode == 2, arguments
            assert "Traceback" not in result.stderr
        assert "left cord clip bite" in foible("lamps", "left cord clip bit").stderr

    @pytest.mark.slow
    def test_pressing_the_point_of_an_unplugged_weapon_is_possible(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        trial = '[[trial]]\nunplugged = "left weapon plug"\npress = "left"\nsaw = "left white all along"\n'
        path.write_text(f'weapon = "foil"\n{trial}', encoding="utf-8")
        assert foible("diagnose", path).returncode == 0


class TestLamps:
    @pytest.fixture
    def few_trials(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Leave only the hits on one place in the catalogue: the whole takes ten seconds to explain."""
        few = [idea for idea in REASONING.strip_ideas("foil") if "front of the right lamé" in idea.say]
        assert few
        monkeypatch.setattr(Reasoning, "ideas", lambda *_: few)

    @pytest.mark.slow
    def test_of_sound_kit_are_those_every_armourer_knows(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Common practice, no source."""
        at_the_piste = REASONING.strip_ideas("foil")
        monkeypatch.setattr(Reasoning, "ideas", lambda *_: at_the_piste)
        data = json.loads(foible("lamps", "sound", "--json").stdout)
        shown = {entry["say"]: entry["left"]["lamps"] for entry in data["trials"]}
        assert shown["leave the whole strip at rest"] == {"white": 0, "coloured": 0, "yellow": 0}
        assert shown["press the left point on something that does not conduct"]["white"] == 1
        assert shown["press the left point on the front of the right lamé"]["coloured"] == 1
        assert len(shown) >= 60

    @pytest.mark.usefixtures("few_trials")
    def test_of_an_open_clip_show_white_on_the_lame_in_words(self) -> None:
        result = foible("lamps", "right cord clip bite: off, dirty or corroded", "--ohms", "1e9")
        line = next(line for line in result.stdout.splitlines() if "front of the right lamé" in line)
        assert line.split()[0] == "white"

    @pytest.mark.usefixtures("few_trials")
    def test_in_a_gap_are_given_with_their_chance(self) -> None:
        result = foible("lamps", "right cord clip bite: off, dirty or corroded", "--ohms", "900")
        assert "white 4" in result.stdout or "red 5" in result.stdout


@pytest.mark.slow
class TestWhy:
    def test_explains_any_suspect_in_any_trial(self) -> None:
        """Suspect 4 is the cord with A and B exchanged: its A pin leads to the weapon."""
        every = said(foible("why", CASE, "--suspect", "4"))
        assert [f"in trial {number}" in every for number in (1, 2, 3, 4)] == [True, True, True, False]
        one = said(foible("why", CASE, "--trial", "2"))
        assert "in trial 2" in one
        assert "in trial 1" not in one

    def test_refuses_numbers_that_are_not_there(self) -> None:
        result = foible("why", CASE, "--trial", "7")
        assert result.returncode == 2
        assert "there is no trial 7" in result.stderr


class TestTimes:
    def test_are_those_of_annex_b(self) -> None:
        """FIE Material Rules, August 2026, Annex B A.1(b)1, B(b), C(b)7."""
        assert "not before 13 ms, certainly from 15 ms" in said(foible("times"))
        assert "not before 40 ms, certainly from 50 ms" in said(foible("times", "--weapon", "epee"))
        assert "not before 1 ms, certainly from 5 ms" in said(foible("times", "--weapon", "sabre"))

    @pytest.mark.slow
    def test_two_epee_hits_show_both_below_40_ms_and_one_above_50(self) -> None:
        """Annex B B(b)."""
        told = {ms: said(foible("times", "--weapon", "épée", "--apart", str(ms))) for ms in (39, 45, 51)}
        assert "both lamps light" in told[39]
        assert "a 50% chance that both" in told[45]
        assert "only the first lamp lights" in told[51]


class TestWeapon:
    @pytest.mark.parametrize(
        "arguments",
        [("times",), ("kit",), ("lamps", "sound"), ("card",), ("testability",)],
        ids=lambda arguments: str(arguments[0]),
    )
    def test_one_that_there_is_not_is_refused_with_those_there_are(self, arguments: tuple[str, ...]) -> None:
        result = foible(*arguments, "--weapon", "rapier")
        assert result.returncode == 2
        assert "there is no weapon called “rapier” — there is foil, épée, sabre" in " ".join(result.stderr.split())

    def test_one_that_there_is_not_is_refused_in_a_case_file_at_its_line(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        path.write_text('title = "Odd"\nweapon = "rapier"\n[[trial]]\nsaw = "nothing"\n', encoding="utf-8")
        result = foible("diagnose", path)
        assert result.returncode == 2
        assert "case.toml:2: there is no weapon called “rapier” — there is foil, épée, sabre" in " ".join(result.stderr.split())


@pytest.mark.slow
class TestScore:
    def test_prints_ranks_misses_and_totals(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """The cases are not diagnosed anew: `make run` does that, and other tests have."""
        monkeypatch.setattr("foible.services.scoring.score", lambda *_, **__: published_score())
        result = foible("score", PUBLISHED)
        assert result.returncode == 0
        assert "foil-sabre-socket-fitted" in said(result)
        assert "90 cases, 88 that the model can express" in said(result)
        data = json.loads(foible("score", PUBLISHED, "--json").stdout)
        missed = [case["name"] for case in data["cases"] if not case["unexplained"] and case["item_rank"] != 1]
        for name in missed:
            assert f"✗ {name}" in said(result)


@pytest.mark.slow
class TestAsk:
    def converse(self, path: Path, *answers: str) -> str:
        """Hold a conversation and return what was printed."""
        result = foible("ask", path, stdin="".join(f"{answer}\n" for answer in answers))
        assert result.returncode == 0, result.stderr
        return said(result)

    def trials(self, path: Path) -> list[dict[str, object]]:
        """Return the trials of a case file; a list of one may be written as that one alone."""
        found = tomllib.loads(path.read_text(encoding="utf-8")).get("trial", [])
        return [TrialTable.model_validate(trial).model_dump(mode="json", exclude_defaults=True) for trial in found]

    def test_offers_takes_and_keeps(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        self.converse(path, "foil", "White on the lamé", "nothing", "white", "done")
        trials = self.trials(path)
        assert trials[0]["saw"] == ["nothing"]
        assert str(trials[1]["saw"]).count("white") == 1
        assert foible("diagnose", path).returncode == 0

    def test_works_for_every_weapon(self, tmp_path: Path) -> None:
        for weapon in ("épée", "EPEE", "sabre"):
            path = tmp_path / f"{weapon}.toml"
            self.converse(path, weapon, "No hits", "nothing", "done")
            assert tomllib.loads(path.read_text(encoding="utf-8"))["weapon"] in ("épée", "sabre")
            assert len(self.trials(path)) == 1

    def test_a_lamp_without_a_side_is_not_guessed_where_both_sides_are_tried(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        path.write_text('weapon = "foil"\n[[trial]]\nsaw = "left white flickers"\n', encoding="utf-8")
        listed = self.converse(path, "other", "", "done")
        rest = re.findall(r"(\d+)\s+leave the whole strip at rest", listed)[0]
        printed = self.converse(path, "other", rest, "white", "right white", "done")
        assert "Say which side" in printed
        assert [trial["saw"] for trial in self.trials(path)] == [["left white flickers"], ["right white"]]

    def test_undo_takes_back_the_last_answer_only(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        self.converse(path, "", "White", "nothing", "white", "undo", "done")
        assert len(self.trials(path)) == 1

    def test_skip_offers_another_trial(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        printed = self.converse(path, "", "White", "skip", "skip", "done")
        offers = [part.split(" (")[0] for part in printed.split("next: ")[1:]]
        assert len(set(offers)) == 3

    def test_other_and_own_trials_are_taken(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        own = ['press = "left"', 'on = "right cord clip"', 'saw = "left coloured"', ""]
        self.converse(path, "", "White", "other", "1", "white", "own", *own, "done")
        trials = self.trials(path)
        assert len(trials) == 2
        assert trials[1] == {"press": "left", "on": "right cord clip", "saw": ["left coloured"]}

    def test_what_was_exchanged_is_taken_and_then_proved(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        own = ['bridged = "left weapon plug B-C"', 'saw = "nothing"', ""]
        rest = ['saw = "left white"', ""]
        printed = self.converse(path, "", "White", "own", *rest, "own", *own, "exchanged left weapon", "nothing", "done")
        said = " ".join(printed.split())
        assert "1 leave the whole strip at rest → nothing " in said
        assert "1 leave the whole strip at rest → nothing lit passed" in said
        assert self.trials(path)[2:] == [
            {"swapped": ["left weapon"]},
            {"swapped": ["left weapon"], "saw": ["nothing"]},
        ]
        refused = self.converse(path, "exchanged left moon", "mended", "done")
        assert "there is no item called “left moon”" in refused
        assert "Say what was mended" in refused

    def test_a_case_is_proved_line_by_line_and_closed(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        own = ['bridged = "left weapon plug B-C"', 'saw = "nothing"', ""]
        rest = ['saw = "left white"', ""]
        self.converse(path, "", "White", "own", *rest, "own", *own, "exchanged left weapon", "done")
        printed = self.converse(path, "passed 9", "close mended and proved", "passed", "passed", "passed", "close")
        said = " ".join(printed.split())
        assert "“passed 9” is not" not in said
        assert "“9” is not a line of the proof: give a number from 1 to" in said
        assert "the proof has not passed" in said
        assert "Closed: exchanged and fencing: left weapon." in said
        written = tomllib.loads(path.read_text(encoding="utf-8"))
        assert (written["ending"], written["ended_with"]) == ("exchanged and fencing", "left weapon")
        assert foible("diagnose", path).returncode == 0

    def test_a_failed_line_is_asked_after_and_an_ending_can_be_named(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        rest = ['saw = "left white"', ""]
        self.converse(path, "", "White", "own", *rest, "failed", "exchanged left weapon", "failed 1", "left white", "done")
        assert self.trials(path)[1:] == [
            {"swapped": ["left weapon"]},
            {"swapped": ["left weapon"], "saw": ["left white"]},
        ]
        self.converse(path, "close to the workshop")
        printed = self.converse(path, "close sold", "close", "close no fault found")
        assert "there is no ending called “sold”" in printed
        assert "nothing was put right: name an ending" in printed
        written = tomllib.loads(path.read_text(encoding="utf-8"))
        assert (written["ending"], "ended_with" in written) == ("no fault found", False)

    def test_nonsense_is_refused_and_loses_nothing(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        printed = self.converse(
            path, "", "White", "nothing", "banana", "other", "99", "own", "press = ", "", "undo", "undo", "done"
        )
        assert "“banana” is not a report of lamps" in printed
        assert "“99” is not a number from" in printed
        assert "cannot be read" in printed
        assert "no answer from this session to undo" in printed
        assert self.trials(path) == []

    def test_with_nothing_said_it_asks_for_weapon_complaint_and_side_by_number_or_in_words(self, tmp_path: Path) -> None:
        """Each answer once by number and once in words; a number that is not on the list is asked for again."""
        for number, answers in enumerate(
            (("9", "2", "1", "3", "2"), ("epee", "i hit and nothing LIT", "middle", "green")), start=1
        ):
            result = foible("ask", stdin="\n".join((*answers, "done")), cwd=tmp_path)
            assert result.returncode == 0, result.stderr
            assert "is not a number from 1 to 3" in said(result) or "is not a side" in said(result)
            path = tmp_path / ("case.toml" if number == 1 else "case-2.toml")
            assert f"Saved in {path.name}" in said(result)
            written = tomllib.loads(path.read_text(encoding="utf-8"))
            assert (written["weapon"], written["complaint"]) == ("épée", "I hit and nothing lit")
            assert self.trials(path) == [{"press": "right", "saw": ["right no coloured"], "hearsay": 0.3}]

    def test_title_piste_fencer_and_what_is_fitted_are_changed_at_any_time(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        printed = self.converse(
            path, "foil", "2", "left", "piste 3", "fencer N. N. (invented)", "title White (invented)",
            "fitted left socket bayonet", "fitted right socket moon", "fitted left", "piste 4", "done",
        )  # fmt: skip
        written = tomllib.loads(path.read_text(encoding="utf-8"))
        assert [written[key] for key in ("title", "piste", "fencer")] == ["White (invented)", "4", "N. N. (invented)"]
        assert written["left"] == {"socket": "bayonet"}
        assert "right" not in written
        assert "moon" in printed
        assert "“left” is not a fitting" in printed
        assert len(self.trials(path)) == 1

    def test_the_referees_questions_are_answered_at_the_piste_alone(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        assert "t.56.1–6" in self.converse(path, "foil", "5", "left", "referee", "done")
        result = foible("ask", path, "--bench", "left weapon", stdin="referee\ndone\n")
        assert "t.56" not in said(result)

    def test_goes_on_with_a_case_and_leaves_its_comments_alone(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        path.write_text("# mine\n" + CASE.read_text(encoding="utf-8"), encoding="utf-8")
        before = path.read_text(encoding="utf-8")
        self.converse(path, "own", 'press = "left"', 'saw = "left white"', "", "done")
        after = path.read_text(encoding="utf-8")
        assert after.startswith(before.rstrip("\n"))
        assert len(self.trials(path)) == 4

    def test_the_end_of_input_ends_it_with_everything_kept(self, tmp_path: Path) -> None:
        path = tmp_path / "case.toml"
        self.converse(path, "", "White", "nothing")
        assert len(self.trials(path)) == 1

    def test_a_folder_that_cannot_be_written_to_is_said(self, tmp_path: Path) -> None:
        result = foible("ask", tmp_path / "no" / "case.toml", stdin="\nWhite\n")
        assert result.returncode == 2
        assert "cannot be written" in result.stderr


@pytest.mark.slow
def test_the_kit_command_prints_names_that_a_case_file_takes(tmp_path: Path) -> None:
    printed = foible("kit", width=4000).stdout
    places = next(line for line in printed.splitlines() if "places: left weapon" in line).split("places: ")[1].split(" · ")
    blocks = "".join(f'[[trial]]\npress = "right"\non = "{place.strip()}"\nsaw = "nothing"\n' for place in places)
    path = tmp_path / "case.toml"
    path.write_text(f'weapon = "foil"\n{blocks}', encoding="utf-8")
    assert foible("diagnose", path).returncode == 0


def test_version_and_help_work() -> None:
    assert foible("--version").stdout.startswith("foible ")
    assert "diagnose" in foible("--help").stdout


HEAVY = {"alembic", "fastapi", "networkx", "numba", "numpy", "pydantic", "sqlalchemy", "uvicorn"}
"""What takes longer to load than the command may take to say its version."""
LOADED = """
import json, sys
from foible.cli.main import run
try:
    run()
finally:
    sys.stderr.write(json.dumps(sorted({name.partition(".")[0] for name in sys.modules})))
"""


@pytest.mark.parametrize("words", ["--version", "--help", "kit --help", "diagnose --help", "serve --help"])
def test_version_and_help_load_nothing_heavy(words: str) -> None:
    told = subprocess.run([sys.executable, "-c", LOADED, *words.split()], capture_output=True, text=True, check=True)  # noqa: S603 — our own words
    assert told.stdout
    assert set(json.loads(told.stderr)) & HEAVY == set()
