"""The field card: a proper tree, the best of its cuts, right in what it promises, and the same on every kind of paper."""

from __future__ import annotations

import io
import re
import shlex
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise, product
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import typer
from pypdf import PdfReader
from typer.testing import CliRunner

from foible.cli.card import card
from foible.diagnosis.advice import tree as growing
from foible.diagnosis.advice.cuts import Cut
from foible.diagnosis.advice.tree import Leaf, Question, Tree, build_tree
from foible.diagnosis.advice.unfolding import Unfolding
from foible.errors import InputError, UnknownNameError
from foible.output import card_html, card_of, card_text
from foible.output.card_pdf import card_pdf
from foible.output.card_text import _readings
from foible.services.reasoning import Reasoning
from foible.situation import Mode
from strip import strip

if TYPE_CHECKING:
    from collections.abc import Iterator

    from foible.diagnosis.advice.adviser import Adviser
    from foible.diagnosis.advice.unfolding import State
    from foible.output import Card

PAGE = Path(__file__).parent.parent / "docs" / "field-card.md"
WALKS = 2000
REASONING = Reasoning()
ITEM = "left weapon"
AT_HAND = ("meter", "screwdriver")
CARDS = [("foil", "", 60.0), ("foil", "", 300.0), ("épée", "", 180.0), ("sabre", "", 180.0), ("foil", ITEM, 600.0)]


def adviser(weapon: str, item: str = "") -> Adviser:
    reasoner = strip(weapon).reasoner
    return reasoner.adviser(Mode.BENCH, item) if item else reasoner.adviser(Mode.PISTE)


@cache
def made(weapon: str, item: str, budget_s: float) -> Tree:
    """Return the tree of a card with the tools that it is meant for."""
    return build_tree(adviser(weapon, item), AT_HAND if item else ("spare",), budget_s)


@cache
def laid_out(weapon: str, item: str, budget_s: float) -> Card:
    return card_of(REASONING.setup(weapon), made(weapon, item, budget_s))


def one_line(text: str) -> str:
    return " ".join(text.split())


def paths(node: Question | Leaf, before: tuple[Question, ...] = ()) -> Iterator[tuple[tuple[Question, ...], Leaf]]:
    if isinstance(node, Leaf):
        yield before, node
    else:
        for way in node.ways:
            yield from paths(way.node, (*before, node))


def _chance(leaf: Leaf) -> float:
    return leaf.chance


def words_of_pdf(data: bytes) -> str:
    return one_line(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages))


class TestTree:
    @pytest.mark.slow
    @pytest.mark.parametrize("which", CARDS)
    def test_every_trial_tells_all_its_outcomes_once_and_chances_add_up(self, which: tuple[str, str, float]) -> None:
        tree = made(*which)
        for question in tree.questions():
            assert sum(way.chance for way in question.ways) == pytest.approx(1, abs=1e-5)
            told = sorted(outcome for way in question.ways for outcome in way.outcomes)
            assert told == list(range(len(adviser(*which[:2]).experiments[question.trial].outcomes)))
            for way in question.ways:
                assert way.node.chance == pytest.approx(question.chance * way.chance)
        assert sum(leaf.chance for leaf in tree.leaves()) == pytest.approx(1, abs=1e-4)

    @pytest.mark.parametrize("which", CARDS)
    def test_paths_keep_to_tools_and_time(self, which: tuple[str, str, float]) -> None:
        tree = made(*which)
        assert len(tree.questions()) > 3
        for before, leaf in paths(tree.root):
            assert leaf.seconds == pytest.approx(sum(question.idea.seconds for question in before))
            assert leaf.seconds <= which[2]
            assert all(set(question.idea.needs) <= set(tree.tools) for question in before)
            assert all(question.idea.item == (which[1] or None) for question in before)
            once = [question.trial for question in before if question.idea.once_only]
            assert len(once) == len(set(once)), "the same place looked at twice shows the same"

    @pytest.mark.parametrize("which", CARDS)
    def test_walks_take_as_long_and_end_as_right_as_the_tree_says(self, which: tuple[str, str, float]) -> None:
        """Faults drawn from the prior, what they show from the tables; 2,000 walks, three standard errors."""
        tree, advised = made(*which), adviser(*which[:2])
        rng = np.random.default_rng(2026)
        prior = advised.prior / advised.prior.sum()
        seconds, right, open_ = np.zeros(WALKS), np.zeros(WALKS), np.zeros(WALKS)
        for walk, kind in enumerate(rng.choice(len(prior), size=WALKS, p=prior)):
            node, acted = tree.root, frozenset[int]()
            while isinstance(node, Question):
                seconds[walk] += node.idea.seconds
                chance = advised.after(acted).model.tables[node.trial][:, kind].astype(np.float64)
                shown = int(rng.choice(len(chance), p=chance / chance.sum()))
                assert advised.model.mends is not None
                acted |= {int(advised.model.mends[node.trial])} - {-1}
                node = next(way.node for way in node.ways if shown in way.outcomes)
            named = [aim.name for aim in advised.aims].index(node.aims[0][0])
            others = dict(advised.model.covered).get(named, ())
            right[walk] = int(advised.model.group[kind]) in {named, *others}
            open_[walk] = not node.decided
        for drawn, said in ((seconds, tree.expected_s), (right, tree.right), (open_, tree.undecided)):
            assert abs(drawn.mean() - said) < 3 * drawn.std() / WALKS**0.5
        assert sum(share for _, share in tree.between) == pytest.approx(tree.undecided)

    def test_more_time_never_makes_it_less_right(self) -> None:
        trees = [made("foil", "", budget_s) for budget_s in (3.0, 15.0, 30.0, 60.0, 300.0)]
        rights = [tree.right for tree in trees]
        assert all(later >= sooner - 1e-6 for sooner, later in pairwise(rights))
        assert rights[0] < rights[2] < rights[4]

    def test_more_leaves_never_make_it_less_right_and_are_not_exceeded(self) -> None:
        trees = {most: build_tree(adviser("sabre"), ("spare",), 60, most_leaves=most) for most in (1, 5, 12, 40)}
        assert all(len(tree.leaves()) <= most for most, tree in trees.items())
        rights = [tree.right for tree in trees.values()]
        assert rights == sorted(rights)
        assert isinstance(trees[1].root, Leaf)

    @pytest.mark.parametrize("weapon", ["foil", "sabre"])
    def test_no_other_cut_with_as_many_leaves_is_better(self, weapon: str) -> None:
        """All cuts, one by one, against the dynamic programming."""
        advised = adviser(weapon)
        least = {"foil": 0.02, "sabre": 0.03}[weapon]
        stem = Unfolding(advised, (), 40, least).unfold(advised.prior / advised.prior.sum())

        def cuts(state: State) -> list[Cut]:
            behind = [cuts(way) for group in state.groups for way in group]
            longer = [Cut(0, 0, below) for below in product(*behind)] if behind else []
            return [Cut(0, 0), *longer]

        every = [[leaf for _, leaf in paths(growing._question(advised, stem, cut))] for cut in cuts(stem)]
        assert len(every) > 200
        for most in (1, 5, 10, 40):
            small = [leaves for leaves in every if len(leaves) <= most]
            right, seconds = max(
                (
                    round(sum(leaf.chance * leaf.aims[0][1] for leaf in leaves), 6),
                    -sum(leaf.chance * leaf.seconds for leaf in leaves),
                )
                for leaves in small
            )
            best = build_tree(advised, (), 40, most_leaves=most, least_chance=least)
            assert best.right == pytest.approx(right, abs=2e-6)
            assert best.expected_s == pytest.approx(-seconds, abs=1e-3)

    def test_without_a_spare_nothing_is_exchanged(self) -> None:
        assert any(question.idea.trial.swapped for question in made("foil", "", 300.0).questions())
        assert not any(question.idea.trial.swapped for question in build_tree(adviser("foil"), (), 300).questions())

    def test_a_cord_that_is_bridged_and_darkens_the_white_lamp_clears_itself(self) -> None:
        """White at rest, the cord's pins held on the guard, and nothing lights: the weapon. Common practice, no source."""
        advised = adviser("foil")
        rest = next(i for i, idea in enumerate(advised.ideas) if idea.say == "leave the whole strip at rest")
        white = next(i for i, outcome in enumerate(advised.experiments[rest].outcomes) if outcome.words == "left white")
        tree = build_tree(advised, (), 60, start=advised.prior * advised.model.tables[rest][white])
        bridging = next(
            question for question in tree.questions() if "hold both pins of its cord on the guard" in question.idea.say
        )
        ends = {words: max((leaf for _, leaf in paths(way.node)), key=_chance) for way in bridging.ways for words in way.words}
        assert ends["nothing"].aims[0][0] == "left weapon"
        assert ends["nothing"].decided
        assert ends["left white"].aims[0][0] == "left cord"

    def test_a_fault_that_is_known_needs_no_trial(self) -> None:
        advised = adviser("foil")
        kind = advised.starts_of("left cord")
        start = np.zeros(len(advised.prior))
        start[kind] = 2.0
        tree = build_tree(advised, ("spare",), 180, start=start)
        assert tree.root == Leaf((("left cord", 1.0),), 1.0, 0.0)
        assert (tree.right, tree.undecided, tree.expected_s) == (1.0, 0.0, 0.0)
        said = card_of(REASONING.setup("foil"), tree)
        for text in (card_text(said), card_html(said), words_of_pdf(card_pdf(said))):
            assert "left cord over 99%" in one_line(text)


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
    @pytest.mark.slow
    @pytest.mark.parametrize("which", CARDS)
    def test_text_page_and_pdf_say_every_trial_and_every_end(self, which: tuple[str, str, float]) -> None:
        said = laid_out(*which)
        papers = {"text": card_text(said), "page": Checked(card_html(said)).said, "PDF": words_of_pdf(card_pdf(said))}
        trials = {question.idea.say for question in made(*which).questions()}
        ends = {row.ends for step in said.steps for row in step.rows if row.ends}
        wanted = [*trials, *ends, *(fact for _, fact in said.facts), *said.cautions, said.title]
        assert len(said.steps) == len(made(*which).questions())
        for name, paper in papers.items():
            for sentence in wanted:
                written = sentence.replace("Ω", "ohm") if name == "PDF" else sentence
                assert one_line(written) in one_line(paper), name

    @pytest.mark.parametrize("which", CARDS)
    def test_following_the_numbers_reaches_every_step_and_follows_the_tree(self, which: tuple[str, str, float]) -> None:
        steps = {step.number: step for step in laid_out(*which).steps}
        questions = {id(question): question for question in made(*which).questions()}
        waiting, seen = [(1, made(*which).root)], set()
        while waiting:
            number, node = waiting.pop()
            assert isinstance(node, Question)
            assert steps[number].said.removeprefix("once more: ") == node.idea.say
            seen.add(number)
            del questions[id(node)]
            for row, way in zip(steps[number].rows, node.ways, strict=True):
                assert (row.to is None) == isinstance(way.node, Leaf)
                if row.to is not None:
                    waiting.append((row.to, way.node))
        assert seen == set(steps)
        assert not questions

    @pytest.mark.parametrize("which", CARDS)
    def test_the_text_keeps_to_its_columns(self, which: tuple[str, str, float]) -> None:
        assert max(len(line) for line in card_text(laid_out(*which)).splitlines()) <= 100

    @pytest.mark.parametrize("which", CARDS)
    def test_the_page_stands_alone_and_is_sound(self, which: tuple[str, str, float]) -> None:
        page = card_html(laid_out(*which))
        checked = Checked(page)
        assert checked.open == []
        assert checked.lang == "en-GB"
        assert not re.search(r"https?:|//|<script|<link|@import|url\(", page)
        assert not {"src", "srcset", "action", "style"} & checked.keys
        assert len(checked.ids) == len(set(checked.ids)) == len(laid_out(*which).steps)
        assert checked.links
        assert {link.removeprefix("#") for link in checked.links} <= set(checked.ids)
        assert checked.headings[0] == 1
        assert checked.headings.count(1) == 1
        assert all(later <= sooner + 1 for sooner, later in pairwise(checked.headings))

    def test_colours_are_those_of_the_lamps_and_never_alone(self) -> None:
        page = card_html(laid_out("sabre", "", 300.0))
        marks = re.findall(r'<span class="lamp (\w+)" aria-hidden="true"></span>(\w+) (\w+)', page)
        assert {("red", "left", "coloured"), ("green", "right", "coloured"), ("white", "left", "white")} <= set(marks)
        assert page.count('class="lamp ') == len(marks)
        assert all(
            colour == (word if word != "coloured" else {"left": "red", "right": "green"}[side]) for colour, side, word in marks
        )

    def test_the_pages_of_the_pdf_are_numbered_a4(self) -> None:
        pages = PdfReader(io.BytesIO(card_pdf(laid_out("foil", ITEM, 600.0)))).pages
        assert len(pages) > 1
        for number, page in enumerate(pages, start=1):
            assert f"page {number} of {len(pages)}" in one_line(page.extract_text())
            assert [round(float(side) / 72 * 25.4) for side in page.mediabox[2:]] == [210, 297]

    def test_the_same_card_is_the_same_file(self) -> None:
        again = card_of(REASONING.setup("sabre"), build_tree(adviser("sabre"), ("spare",), 180))
        before = laid_out("sabre", "", 180.0)
        assert again == before
        assert card_pdf(again) == card_pdf(before)
        assert card_html(again) == card_html(before)

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
        assert _readings(words) == drawn


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
            card(weapon="sabre", budget=0.5, out=path)
        assert path.read_text(encoding="utf-8") == "the old card"
        assert [entry.name for entry in tmp_path.iterdir()] == ["card.txt"]
