"""A weapon's catalogue file in; the trials worth trying out: what to do, in words and as an arrangement, and what it costs.

A catalogue is TOML: one `[[idea]]` per trial, with the keys of a trial of a case file and

- `say`, `seconds`: the request in words, and the time it costs [s];
- `{side}` and `{other}` in any value: an idea stands for two trials, one per side, unless it has `once = true`;
- `each = ["A", "B"]`: the idea stands for one trial per entry. `{x}` is the entry; `{first}` and `{second}` are what comes
  before and after its “ to ”, “-” or first space: “back to flank”, “A-B”, “bend blade”;
- `item`: what is on the bench. With it the trial is one for the bench, without it one for the piste;
- `needs`: tools at hand that the other keys do not imply (`swapped` needs a spare, `meter` a meter, `box` a test box);
- `odd = true`: a trial that has to be explained to fencers and referee before it can be made, and so costs more;
- `only_with`: parts without which the idea makes no sense, as where another socket is fitted.

`also` at the top of a file names further files whose ideas belong to this weapon too.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from foible.errors import Problem, ProblemsError, UnknownNameError
from foible.kit import SIDES, filled, overlaid_file, side_words
from foible.situation import TOOLS
from foible.tomlfile import Strict, Words, line_of, read_model, read_table, toml_lines
from foible.trials.read import TrialTable, read_trial

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from foible.errors import InputError
    from foible.kit import Setup
    from foible.trials.trial import Trial

__all__ = ["Idea", "load_catalogue"]

SHIPPED = Path(str(files("foible.trials") / "data"))
_IMPLIED = {"swapped": "spare", "meter": "meter", "box": "box"}
"""The tool that a key of an idea implies."""


class IdeaTable(Strict):
    """One or more trials of a catalogue, with names in braces to be filled in; the module says how."""

    say: str
    seconds: float = Field(gt=0)
    once: bool = False
    odd: bool = False
    each: Words = ()
    item: str | None = None
    needs: Words = ()
    only_with: Words = ()
    press: str | None = None
    cut: str | None = None
    on: str | None = None
    touching: Words = ()
    unplugged: Words = ()
    bridged: Words = ()
    swapped: Words = ()
    move: Words = ()
    examine: Words = ()
    meter: tuple[str, str] | None = None
    box: str | None = None
    plugged: Words = ()
    gauge: str | None = None


class SharedFile(Strict):
    """Trials worth trying that several weapons have in common."""

    idea: tuple[IdeaTable, ...]


class CatalogueFile(SharedFile):
    """The trials worth trying for one weapon."""

    also: Words = ()


@dataclass(frozen=True, slots=True)
class Idea:
    """A trial that could be made next."""

    say: str
    """The trial as a request: “press the left point on …”."""
    seconds: float
    needs: tuple[str, ...]
    """Everything out of `situation.TOOLS` that must be at hand."""
    once: bool
    """Whether it is about both sides at once."""
    side: str | None
    """The side that is tried; None where it is about both."""
    item: str | None
    """The item that is on the bench; None for a trial at the piste."""
    trial: Trial
    table: TrialTable
    """The trial as a case file would write it, without what was seen."""
    odd: bool = False
    """Whether it has to be explained before it can be made."""
    repair: str | None = None
    """The repair of the item that is made first, as “item: repair”; None for a trial that mends nothing."""

    @property
    def once_only(self) -> bool:
        """Whether repeating it is pointless: the same place looked at, or the same gauge, shows the same."""
        return bool(self.trial.examine or self.trial.gauge)

    @property
    def place(self) -> Literal["piste", "bench"]:
        """Where the trial is made."""
        return "piste" if self.item is None else "bench"


def load_catalogue(setup: Setup, *, overlays: Sequence[Path] = ()) -> tuple[Idea, ...]:
    """Return the trials worth trying with `setup`, at the piste and on the bench, for both sides. Raises ProblemsError."""
    ideas: dict[str, Idea] = {}
    problems = []
    for path, tables in _files(setup, overlays):
        for number, table in enumerate(tables):
            for idea, wrong in _ideas(setup, table):
                problems += [_problem(path, ("idea", number, key), error.seen, error.remedy) for key, error in wrong]
                if idea.say in ideas:
                    seen = f"the sentence “{idea.say}” is defined twice"
                    remedy = "say each trial differently; {side}, {other} and {x} tell them apart"
                    problems.append(_problem(path, ("idea", number, "say"), seen, remedy))
                ideas[idea.say] = idea
    if problems:
        raise ProblemsError(dict.fromkeys(problems))
    return tuple(ideas.values())


def _files(setup: Setup, overlays: Sequence[Path]) -> Iterator[tuple[Path, tuple[IdeaTable, ...]]]:
    """Yield the weapon's own file of ideas and then those that it names under `also`."""
    path = overlaid_file(SHIPPED, "catalogues", setup.kind.word, overlays)
    own = read_model(CatalogueFile, path)
    yield path, own.idea
    for name in own.also:
        shared = overlaid_file(SHIPPED, "catalogues", name, overlays)
        if not shared.is_file():
            seen = f"there is no trials file called “{name}”"
            raise ProblemsError([_problem(path, ("also",), seen, f"correct the name, or put {name}.toml beside this file")])
        yield shared, read_model(SharedFile, shared).idea


def _problem(path: Path, where: tuple[str | int, ...], seen: str, remedy: str) -> Problem:
    return Problem(str(path), line_of(toml_lines(read_table(path)[1]), where), seen, remedy)


def _ideas(setup: Setup, table: IdeaTable) -> Iterator[tuple[Idea, list[tuple[str, InputError]]]]:
    """Yield the ideas that `table` stands for, with what is wrong with each as (key, error) pairs."""
    keys = set(TrialTable.model_fields)
    for side, words in _words(table):
        own = IdeaTable.model_validate(filled(table.model_dump(), words))
        if not all(part in setup.parts for part in own.only_with):
            continue
        trial_table = TrialTable.model_validate(own.model_dump(include=keys))
        trial, wrong = read_trial(setup, trial_table, answered=False)
        implied = [tool for key, tool in _IMPLIED.items() if getattr(own, key)]
        idea = Idea(
            say=own.say,
            seconds=own.seconds,
            needs=tuple(dict.fromkeys((*implied, *own.needs))),
            once=own.once,
            odd=own.odd,
            side=None if own.once else side,
            item=setup.items.name(own.item) if own.item and own.item in setup.items else own.item,
            trial=trial,
            table=trial_table,
        )
        yield idea, [*wrong, *_unknown(setup, idea)]


def _unknown(setup: Setup, idea: Idea) -> Iterator[tuple[str, InputError]]:
    """Yield what is wrong with the keys of an idea that a trial does not have."""
    if idea.item is not None and idea.item not in setup.items:
        yield "item", UnknownNameError(what="item", name=idea.item, known=setup.items)
    for tool in idea.needs:
        if tool not in TOOLS:
            yield "needs", UnknownNameError(what="tool", name=tool, known=TOOLS)


def _words(table: IdeaTable) -> Iterator[tuple[str, Mapping[str, str]]]:
    """Yield the side of every idea that `table` stands for, and what its names in braces are filled with."""
    for entry, side in product(table.each or ("",), SIDES[:1] if table.once else SIDES):
        separator = next((mark for mark in (" to ", "-", " ") if mark in entry), " ")
        first, _, second = entry.partition(separator)
        yield side, {"x": entry, "first": first, "second": second, **side_words(side)}
