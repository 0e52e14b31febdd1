"""The field card: trees that begin with the complaint, the best of their cuts, one sheet, and the same on every kind of paper."""

from __future__ import annotations

import io
import re
import shlex
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise, product
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import typer
from benchmarks.cards.play import WORLDS, Game
from pypdf import PdfReader
from typer.testing import CliRunner

from foible.cli.card import card
from foible.diagnosis import Leaf, Plan, Question, build_plan
from foible.diagnosis.advice.cuts import ONWARD, Cut, best_cut, fitting_cuts, worth_here
from foible.diagnosis.advice.unfolding import Unfolding
from foible.diagnosis.carding import start_after
from foible.errors import InputError, UnknownNameError
from foible.output import card_html, card_of, card_text
from foible.output.card_pdf import card_pdf
from foible.output.card_words import asked, named, readings
from foible.services.complained import complained
from foible.situation import Mode, Situation
from strip import strip
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from foible.diagnosis.advice.starting_point import StartingPoint
    from foible.diagnosis.advice.unfolding import State
    from foible.output import Card

pytestmark = pytest.mark.once

PAGE = Path(__file__).parent.parent / "docs" / "field-card.md"
ITEM = "left weapon"
AT_HAND = {"foil": ("spare",), "épée": ("spare", "weight", "shims"), "sabre": ("spare",)}
QUICK = [("foil", ""), ("foil", ITEM)]
CARDS = [*QUICK, *(pytest.param((weapon, ""), marks=pytest.mark.slow) for weapon in ("épée", "sabre"))]
SMALLEST_PT = 8.0
"""What is to be read at the piste [pt]: asked of the card."""


build = cache(build_plan)
"""The commands of the page print cards that other tests look at too."""


@cache
def made(which: tuple[str, str]) -> Plan:
    """Return the trees of a card with the tools that it is meant for."""
    weapon, item = which
    if item:
        situation = Situation(Mode.BENCH, item, ("meter", "screwdriver"))
        return build(strip(weapon).reasoner, situation, 600.0)
    told = complained(strip(weapon).setup, ())
    return build(strip(weapon).reasoner, Situation(tools=AT_HAND[weapon]), 180.0, told)


@cache
def laid_out(which: tuple[str, str]) -> Card:
    return card_of(REASONING.setup(which[0]), made(which))


@cache
def origin(weapon: str, say: str = "", tools: tuple[str, ...] = ("spare",), facts: tuple[str, ...] = ()) -> StartingPoint:
    """Return what lies open after a complaint."""
    told = {each.say: each.shown for each in complained(strip(weapon).setup, facts)}
    return start_after(strip(weapon).reasoner, Situation(tools=tools, facts=facts), say, told[say])


def one_line(text: str) -> str:
    return " ".join(text.split())


def paths(node: Question | Leaf, before: tuple[Question, ...] = ()) -> Iterator[tuple[tuple[Question, ...], Leaf]]:
    if isinstance(node, Leaf):
        yield before, node
    else:
        for way in node.ways:
            yield from paths(way.node, (*before, node))


def words_of_pdf(data: bytes) -> str:
    return one_line(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages))


WHITE = "It goes white, and I never hit anything"


class TestTree:
    @pytest.mark.parametrize("which", CARDS)
    def test_every_trial_tells_all_its_outcomes_once_and_chances_add_up(self, which: tuple[str, str]) -> None:
        for tree in made(which).trees:
            for question in tree.questions():
                assert sum(way.chance for way in question.ways) == pytest.approx(1, abs=1e-4)
                told = sorted(outcome for way in question.ways for outcome in way.outcomes)
                assert told == list(range(len(question.each.outcomes)))
                assert sum(way.rest for way in question.ways) <= 1
            assert sum(leaf.chance for leaf in tree.leaves()) == pytest.approx(1, abs=1e-4)
        assert sum(tree.weight for tree in made(which).trees) == pytest.approx(1)

    @pytest.mark.parametrize("which", CARDS)
    def test_paths_keep_to_tools_and_time(self, which: tuple[str, str]) -> None:
        plan = made(which)
        for tree in plan.trees:
            assert len(tree.questions()) >= 1
            for before, leaf in paths(tree.root):
                assert leaf.seconds == pytest.approx(sum(question.each.seconds for question in before))
                assert leaf.seconds <= plan.budget_s
                assert all(set(question.each.idea.needs) <= set(plan.tools) for question in before)
                once = [question.each.idea.say for question in before if question.each.idea.once_only]
                assert len(once) == len(set(once)), "the same place looked at twice shows the same"
                acted = [question.each.acts for question in before if question.each.acts >= 0]
                assert len(acted) == len(set(acted)), "what was exchanged is not exchanged again"

    def test_every_complaint_that_can_be_made_has_its_place(self) -> None:
        said = {each.say for each in complained(strip("foil").setup, ())}
        contents = laid_out(QUICK[0]).contents
        assert {say for say, _, _ in contents} == said
        assert all(to for _, _, to in contents)

    def test_a_complaint_about_the_opponents_hits_shares_the_steps_of_the_opponents_own_complaint(self) -> None:
        to = {say: (turned, number) for say, turned, number in laid_out(QUICK[0]).contents}
        assert to["Good hits on me come up white"][1] == to["I hit the lamé and it came up white"][1]
        assert to["Good hits on me come up white"][0]
        assert not to["I hit the lamé and it came up white"][0]

    def test_more_room_never_makes_it_less_worth_and_is_not_exceeded(self) -> None:
        state = Unfolding(origin("foil", WHITE), 180.0, 0.02).unfold()
        worth = []
        for room in (20.0, 40.0, 80.0, 160.0):
            (cut,) = fitting_cuts([state], [1.0], room)
            assert cut.room <= room
            worth.append(cut.worth)
        assert worth == sorted(worth)
        assert worth[0] < worth[-1]

    @pytest.mark.parametrize("price", [0.002, 0.005, 0.02])
    def test_no_other_cut_that_takes_as_little_room_is_worth_more(self, price: float) -> None:
        """All cuts, one by one, against the one found at a price (Everett 1963, theorem 1)."""
        state = Unfolding(origin("foil", WHITE), 40.0, 0.15).unfold()

        def cuts(state: State) -> list[Cut]:
            found = [Cut(worth_here(state), 0.0)]
            for option in state.options:
                ways = [way for group in option.groups for way in group]
                for below in product(*(cuts(way) for way in ways)):
                    own = dict(zip(map(id, ways), below, strict=True))
                    room = option.asks + sum(cut.room for cut in below) + sum(way.told for way in ways)
                    for group in option.groups:
                        ends = [way for way in group if own[id(way)].below is None]
                        room += (len(group) - len(ends)) * ONWARD + (group[0].label if ends else 0.0)
                    found.append(Cut(sum(cut.worth for cut in below), room, below))
            return found

        every = cuts(state)
        assert len(every) > 20
        best = best_cut(state, price)
        assert best.worth - price * best.room == pytest.approx(max(cut.worth - price * cut.room for cut in every))
        assert best.worth == pytest.approx(max(cut.worth for cut in every if cut.room <= best.room + 1e-9))

    def test_without_a_spare_items_are_borrowed_from_the_opponent_or_not_exchanged(self) -> None:
        own = origin("foil", WHITE, ())
        assert all("spare" not in each.idea.needs for each in own.tries)
        assert any(each.idea.trial.swapped for each in origin("foil", WHITE).tries)

    def test_an_exchange_does_again_what_the_complaint_names(self) -> None:
        found = origin("foil", WHITE)
        assert found.shown is not None
        swaps = [each.idea.trial for each in found.tries if each.idea.trial.swapped]
        assert swaps
        assert all(trial.moves == found.shown.moves and trial.arrangement == found.shown.arrangement for trial in swaps)

    def test_no_metal_piste_unless_somebody_says_so(self) -> None:
        def about_piste(facts: tuple[str, ...]) -> bool:
            return any(
                "piste" in each.idea.say for each in origin("foil", "The small yellow lamp on my side is lit", (), facts).tries
            )

        assert not about_piste(())
        assert about_piste(("metal piste",))
        said = {each.say for each in complained(strip("épée").setup, ())}
        more = {each.say for each in complained(strip("épée").setup, ("metal piste", "orange lamps"))} - said
        assert more == {"A touch on the metal piste lights my lamp", "The orange lamp on my side is lit"}

    def test_no_orange_lamp_is_asked_about_unless_somebody_says_that_there_is_one(self) -> None:
        def orange(facts: tuple[str, ...]) -> bool:
            tries = origin("épée", "My lamp is on all the time", (), facts).tries
            return any("orange" in word for each in tries for word in each.outcomes)

        assert not orange(())
        assert orange(("orange lamps",))

    def test_doing_it_until_it_shows_is_as_likely_as_doing_it_three_times(self) -> None:
        """One go, by hand, against the table of three: 1 − (1 − p)³ for a fault that shows with probability p."""
        found = origin("foil", "It goes white when the blades meet")
        beats = [(n, each) for n, each in enumerate(found.tries) if each.idea.say == "beat the left blade"]
        (once, one), (thrice, many) = sorted(beats, key=lambda entry: entry[1].goes)
        assert (one.goes, many.goes, many.seconds) == (1, 3, 3 * one.seconds)
        quiet_once = found.model.tables[once][one.outcomes.index("nothing")]
        quiet_always = found.model.tables[thrice][many.outcomes.index("nothing")]
        np.testing.assert_allclose(quiet_always, quiet_once**3, rtol=1e-4)

    def test_a_second_look_tells_less_than_an_independent_one(self) -> None:
        """A fault that did not show under a handling is one that is not ready for it (readiness is drawn, not averaged)."""
        found = origin("foil", "It goes white when the blades meet")
        number = next(n for n, each in enumerate(found.tries) if each.idea.say == "beat the left blade" and each.goes == 1)
        quiet = found.model.tables[number][found.tries[number].outcomes.index("nothing")].astype(float)
        fault = np.array([found.aims[g].name == "left weapon" for g in found.model.group])
        weight = found.start * fault
        first = float(quiet @ weight) / weight.sum()
        after = weight * quiet
        assert float(quiet @ after) / after.sum() > first + 0.02

    def test_a_cord_that_is_bridged_and_darkens_the_white_lamp_clears_itself(self) -> None:
        """White at rest, the cord's pins held on the guard, and nothing lights: the weapon. Common practice, no source."""
        tree = next(tree for tree in made(QUICK[0]).trees if tree.say == "My white lamp is on all the time")
        assert isinstance(tree.root, Question)
        assert "hold both pins of its cord on the guard" in tree.root.each.idea.say
        ends = {word: way.node for way in tree.root.ways for word in way.words}
        dark = ends["nothing"]
        assert isinstance(dark, Leaf)
        assert dark.aims[0][0] == "left weapon"
        assert dark.decided

    def test_clip_and_pins_come_before_undecided_where_a_foil_hit_comes_up_white(self) -> None:
        """Look at the clip, hit the clip, the A pins: what a master tries next. Common practice, no source."""
        tree = next(tree for tree in made(QUICK[0]).trees if tree.say == "I hit the lamé and it came up white")
        asked_for = {question.each.idea.say for question in tree.questions()}
        assert "look at the right clip on its lamé: on, clean, the wire sound" in asked_for
        assert any("on the right fencer's clip" in say or "on its A pin" in say for say in asked_for)

    def test_the_weapon_is_not_hit_with_before_somebody_has_looked_where_its_blade_may_be_broken(self) -> None:
        told = {each.say: each.shown for each in complained(strip("sabre").setup, ())}
        found = start_after(strip("sabre").reasoner, Situation(), "My cuts give no light", told["My cuts give no light"])
        unfolded = Unfolding(found, 60.0, 0.1).unfold()
        assert unfolded.trials
        assert "left weapon blade" in found.tries[unfolded.trials[0]].idea.trial.examine

    def test_the_printed_card_is_as_right_as_it_says(self) -> None:
        """The benchmark in small: the model's own world, and one in which nothing is wrong in a fifth of complaints."""
        plan, printed = made(QUICK[0]), laid_out(QUICK[0])
        for world in WORLDS[:2]:
            game = Game(strip("foil").reasoner, plan, printed, world, 1)
            right, undecided = [], []
            for tree, found in zip(plan.trees, plan.starts, strict=True):
                assert found.shown is not None
                runs = list(game.play(tree, found.shown, found.shown.hearsay, 60))
                right.append(tree.weight * np.mean([run.right for run in runs]))
                undecided.append(tree.weight * np.mean([not run.decided for run in runs]))
            assert sum(right) > 0.65
            if world.sound is None:
                assert sum(right) == pytest.approx(plan.right, abs=0.07)
                assert sum(undecided) == pytest.approx(plan.undecided, abs=0.08)


class Checked(HTMLParser):
    """Reads a page and keeps what the tests ask about."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.headings: list[int] = []
        self.keys: set[str] = set()
        self.said = ""
        self.lang: str | None = None
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        self.keys |= set(values)
        self.ids += [values["id"] or ""] if "id" in values else []
        self.links += [values["href"] or ""] if "href" in values else []
        self.headings += [int(tag[1])] if re.fullmatch(r"h\d", tag) else []
        self.lang = values.get("lang", self.lang)
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.said += data


class TestPaper:
    @pytest.mark.parametrize("which", CARDS)
    def test_text_page_and_pdf_say_every_trial_and_every_end(self, which: tuple[str, str]) -> None:
        said = laid_out(which)
        papers = {"text": card_text(said), "page": Checked(card_html(said)).said, "PDF": words_of_pdf(card_pdf(said))}
        ends = {row.ends for step in said.steps for row in step.rows if row.ends}
        trials = {step.said for step in said.steps}
        complaints = [say for say, _, _ in said.contents]
        wanted = [*trials, *ends, *complaints, *(fact for _, fact in said.facts), *said.cautions, said.title]
        for name, paper in papers.items():
            for sentence in wanted:
                written = sentence.replace("Ω", "ohm") if name == "PDF" else sentence
                assert one_line(written) in one_line(paper), name

    @pytest.mark.parametrize("which", CARDS)
    def test_following_the_numbers_reaches_every_step_and_follows_the_trees(self, which: tuple[str, str]) -> None:
        card, seen = laid_out(which), set[int]()
        steps = {step.number: step for step in card.steps}
        for branch, tree in zip(card.branches, made(which).trees, strict=True):
            waiting = [(branch.steps[0].number, tree.root)]
            while waiting:
                number, node = waiting.pop()
                assert isinstance(node, Question)
                assert asked(node.each.idea.say, sides=not which[1]) in steps[number].said
                seen.add(number)
                for row, way in zip(steps[number].rows, node.ways, strict=True):
                    assert (row.to is None) == isinstance(way.node, Leaf)
                    if row.to is not None:
                        waiting.append((row.to, way.node))
        assert seen == set(steps)

    @pytest.mark.parametrize("which", CARDS)
    def test_the_text_keeps_to_its_columns(self, which: tuple[str, str]) -> None:
        assert max(len(line) for line in card_text(laid_out(which)).splitlines()) <= 100

    @pytest.mark.parametrize("which", CARDS)
    def test_it_is_one_sheet_of_a4_in_letters_of_8_pt_or_more(self, which: tuple[str, str]) -> None:
        pages = PdfReader(io.BytesIO(card_pdf(laid_out(which)))).pages
        assert len(pages) == 2 or (which[1] and len(pages) == 1)
        sizes: list[float] = []

        def note(text: str, _matrix: Any, _text_matrix: Any, _font: Any, size: float) -> None:  # noqa: ANN401 — pypdf's own
            if text.strip():
                sizes.append(size)

        for number, page in enumerate(pages, start=1):
            assert f"page {number} of {len(pages)}" in one_line(page.extract_text())
            assert [round(float(side) / 72 * 25.4) for side in page.mediabox[2:]] == [210, 297]
            page.extract_text(visitor_text=note)
        assert sizes
        assert min(sizes) >= SMALLEST_PT

    @pytest.mark.parametrize("which", CARDS)
    def test_the_page_stands_alone_and_is_sound(self, which: tuple[str, str]) -> None:
        page = card_html(laid_out(which))
        checked = Checked(page)
        assert checked.open == []
        assert checked.lang == "en-GB"
        assert not re.search(r"https?:|//|<script|<link|@import|url\(", page)
        assert not {"src", "srcset", "action", "style"} & checked.keys
        assert len(checked.ids) == len(set(checked.ids)) == len(laid_out(which).steps)
        assert checked.links
        assert {link.removeprefix("#") for link in checked.links} <= set(checked.ids)
        assert checked.headings[0] == 1
        assert checked.headings.count(1) == 1
        assert all(later <= sooner + 1 for sooner, later in pairwise(checked.headings))

    def test_colours_are_those_of_the_lamps_and_never_alone(self) -> None:
        page = card_html(laid_out(QUICK[0]))
        marks = re.findall(r'<span class="lamp (\w+)" aria-hidden="true"></span>(own|opponent&#39;s) (\w+)', page)
        assert {("either", "own", "coloured"), ("white", "own", "white")} <= set(marks)
        assert page.count('class="lamp ') == len(marks)
        assert all(colour == ("either" if word == "coloured" else word) for colour, _, word in marks)

    def test_the_same_card_is_the_same_file(self) -> None:
        situation = Situation(Mode.BENCH, ITEM, ("meter", "screwdriver"))
        again = card_of(REASONING.setup("foil"), build_plan(strip("foil").reasoner, situation, 600.0))
        before = laid_out(QUICK[1])
        assert again == before
        assert card_pdf(again) == card_pdf(before)
        assert card_html(again) == card_html(before)

    @pytest.mark.parametrize(
        ("say", "written"),
        [
            ("press the left point on the right fencer's clip", "press the fencer's point on the opponent's clip"),
            ("have the left fencer fence on", "have the fencer fence on"),
            ("exchange the right cord for a known-good one and wait", "exchange the opponent's cord and wait"),
        ],
    )
    def test_trials_are_told_from_where_the_fencer_stands_who_complains(self, say: str, written: str) -> None:
        assert asked(say, sides=True) == written
        assert asked(say, sides=False) == say

    def test_handling_is_named_by_what_to_do(self) -> None:
        assert named("left handling: lift the hem off the piste", None, sides=True) == "lift the hem off the piste"
        assert named("right handling: lift it", None, sides=True) == "opponent: lift it"
        assert named("left weapon: renew the tip", "left weapon", sides=False) == "renew the tip"

    @pytest.mark.parametrize(
        ("words", "drawn"),
        [
            (["0.5 to 1 Ω", "1 to 2 Ω"], ["0.5 to 2 Ω"]),
            (["under 0.5 Ω", "0.5 to 1 Ω", "1 to 2 Ω"], ["under 2 Ω"]),
            (["0.5 to 1 Ω", "2 to 3.5 Ω"], ["0.5 to 1 Ω", "2 to 3.5 Ω"]),
            (["80 to 200 Ω", "200 to 500 Ω", "open", "the reading wobbles"], ["80 to 500 Ω", "open", "the reading wobbles"]),
            (["nothing", "left white"], ["nothing", "left white"]),
        ],
    )
    def test_neighbouring_readings_are_told_as_one(self, words: list[str], drawn: list[str]) -> None:
        assert readings(words) == drawn


def cases() -> typer.Typer:
    """Return the command by itself."""
    program = typer.Typer(add_completion=False)
    program.command("card")(card)
    return program


class TestCommand:
    @pytest.mark.slow
    def test_the_commands_of_the_page_run(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.chdir(tmp_path)
        monkeypatch.setattr("foible.services.reasoning.Reasoning", lambda **_: REASONING)  # its tables are worked out once
        monkeypatch.setattr("foible.services.reasoning.build_plan", build)
        (block,) = re.findall(r"```sh\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
        commands = [shlex.split(line) for line in block.splitlines()]
        assert all(words[:2] == ["foible", "card"] for words in commands)
        for words in commands:
            result = CliRunner().invoke(cases(), words[2:])
            assert result.exit_code == 0, result.output
            assert ("Field card: foil, at the piste" in result.output) == ("--out" not in words)
        assert (tmp_path / "card.txt").read_text(encoding="utf-8").startswith("Field card: épée, at the piste")
        assert "Field card: sabre" in (tmp_path / "card.html").read_text(encoding="utf-8")
        assert "left weapon on the bench" in words_of_pdf((tmp_path / "card.pdf").read_bytes())
        assert {path.name for path in tmp_path.iterdir()} == {"card.txt", "card.html", "card.pdf"}

    def test_the_page_names_every_option(self) -> None:
        told = set(re.findall(r"^\| `(--\w+)`", PAGE.read_text(encoding="utf-8"), re.MULTILINE))
        command = typer.main.get_command(cases())
        assert told == {option for entry in command.params for option in entry.opts}

    def test_an_unknown_tool_is_refused_with_the_known_ones(self) -> None:
        with pytest.raises(UnknownNameError, match=r"no tool called “soldering iron” — there is spare, meter"):
            card(tools="spare, soldering iron")

    def test_an_item_that_is_not_there_is_refused(self) -> None:
        with pytest.raises(UnknownNameError, match=r"left weapn.*did you mean “left weapon”"):
            card(bench="left weapn")

    @pytest.mark.parametrize("name", ["card.docx", "card"])
    def test_an_unknown_suffix_is_refused_before_any_work(self, name: str, tmp_path: Path) -> None:
        with pytest.raises(InputError, match=r"\.txt, \.html or \.pdf"):
            card(out=tmp_path / name)
        assert not list(tmp_path.iterdir())

    @pytest.mark.parametrize("budget", [0.0, -1.0, float("nan"), float("inf")])
    def test_a_budget_that_is_no_time_is_refused(self, budget: float) -> None:
        with pytest.raises(InputError, match="minutes"):
            card(budget=budget)

    def test_a_file_is_written_whole_or_not_at_all(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def half(path: Path, data: bytes) -> int:
            with path.open("wb") as file:
                file.write(data[: len(data) // 2])
            raise OSError(28, "No space left on device")

        path = tmp_path / "card.txt"
        path.write_text("the old card", encoding="utf-8")
        monkeypatch.setattr("foible.services.reasoning.Reasoning", lambda **_: REASONING)
        monkeypatch.setattr(Path, "write_bytes", half)
        with pytest.raises(InputError, match="No space left"):
            card(bench="left cord", budget=1, out=path)
        assert path.read_text(encoding="utf-8") == "the old card"
        assert [entry.name for entry in tmp_path.iterdir()] == ["card.txt"]
