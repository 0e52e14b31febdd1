"""The page of figures and its picture."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import matplotlib as mpl

mpl.use("svg")
import matplotlib.pyplot as plt

from benchmarks.accuracy.world import WORLDS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

__all__ = ["FIGURES", "keep", "page", "write"]

FIGURES = "accuracy.json"
INK, PALE = "#33475b", "#c9d2da"
FEWEST = 20
"""Stated probabilities of a bin that is drawn; fewer say little."""
OWN, NOTHING = "own", "nothing"
RIGHT_OWN, RIGHT, RIGHT_EACH = 0.97, 0.92, 0.9
ECE_OWN, ECE = 0.03, 0.08
ALONE, MISSED = 0.9, 0.03
"""The lines that were asked for."""


def keep(found: dict[str, Any], docs: Path) -> None:
    """Keep figures beside those that another measurement made."""
    path = docs / FIGURES
    before = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
    path.write_text(json.dumps({**before, **found}, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")


def write(found: dict[str, Any], docs: Path) -> None:
    """Write docs/accuracy.md and its picture from the figures."""
    mpl.rcParams["svg.hashsalt"] = "foible"  # the same figures give the same bytes
    _reliability(found, docs / "pictures" / "accuracy-reliability.svg")
    (docs / "accuracy.md").write_text(page(found), encoding="utf-8")


# long: a page of prose, from its top to its bottom
def page(found: dict[str, Any]) -> str:
    """Return the page."""
    worlds = found["worlds"]
    own = [data[OWN] for data in worlds.values()]
    lines = [
        "# How right, how fast, how honest",
        "",
        f"Simulated faults, diagnosed by the whole program: two faults at once, faults that come and go, and nothing wrong are all in question, and its first advice is followed until it says to act. [Rehearsals](rehearsals.md) judge the advice itself. `make accuracy` writes this page: {found['count']} cases for each weapon and world, seed {found['seed']}, {found['minutes']} minutes on two cores.",
        "",
        *_earlier(found),
        "A case begins with one of the program's own complaints, such as “It goes white, and I never hit anything”. A fault is drawn as often as it occurs and, evenly, a situation in which fencers complain; where what is seen then is what a complaint tells, that is a case. Nobody complains of a fault that never shows. "
        "What is told without a cause has nothing wrong behind it: as often as the file of complaints says of each. What each trial shows is worked out on a network made for that case, not from the tables behind the advice. At the piste, spare items at hand, no meter.",
        "",
        "*Right*, of the cases with a fault: exchanging the item that is named at the end, or putting right what is named, cures what was complained of. With two faults both have to be named or exchanged on the way where both make the complaint. "
        "What is named is done, and what failed is made again, three times where it came and went: the first line of the program's own proof. Where it still fails, the case goes on. *At once* is the same of what was named first, before it was proved. "
        "*To the end*: mean seconds of the trials and of doing what is named, by the table of `benchmarks/seconds.py`. *ECE*: expected calibration error of the first item's stated share, after every trial, in ten bins. A first name is true as far as exchanging that one item cures: wholly, or by half where both items of a pair are needed. *By halves*: where of two faults in two items each counts as half, even one that makes no complaint; earlier states of this page counted so.",
        "",
        "## The lines",
        "",
        "Means over the weapons, where it says nothing else.",
        "",
        "| asked for | measured | |",
        "| --- | --- | --- |",
        *_lines(worlds),
        "",
        f"Of what was named first, before it was proved, {_mean(own, 'right_at_once'):.1%} is right in its own world. "
        f"There the program states at the end of a case that it is right with {_mean(own, 'stated'):.1%} on average, and is right in {_mean(own, 'right_of_all'):.1%}, those with nothing wrong counted: "
        "it stops where acting costs less than another trial, and says how sure it is then.",
        "",
        "## By world",
        "",
        "Each world differs from the program's own in what it is named for, and in nothing else.",
        "",
        "| world | foil | épée | sabre | mean right | mean ECE | by halves |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for world in WORLDS:
        each = [worlds[weapon][world.name] for weapon in worlds]
        shares = " | ".join(f"{own['right']:.1%}" for own in each)
        lines.append(
            f"| {world.words} | {shares} | {_mean(each, 'right'):.1%} | {_mean(each, 'ece'):.3f} | {_mean(each, 'ece_halves'):.3f} |"
        )
    lines += [
        "",
        "- *Drawn anew*: a fault that comes and goes is ready to show with a chance drawn for each case: at rest and at the press of a side from a beta distribution (0.6, 1.4), under each movement of its own item (0.7, 0.7), while its fencer fences on (1.5, 1). A third of the steady ones flicker when their item is moved. The kit files are not asked. All of it is judgement.",
        "- *Cures*: one movement of its item, drawn for each case, takes the fault away in 7 of 10 times; the next press or movement of the item brings it back in half.",
        "- *No metal piste*: nobody tells the program; a press on the piste touches nothing.",
        "- *Leading suspect*: in one trial of thirty, drawn at random, the report is what the first suspect would show.",
        "- *Unknown*: a raised resistance, two raised together or two points joined that no kit file lists, in an item drawn as often as it fails. Right is that item.",
        "",
        "## By weapon",
        "",
        "*Left alone*: of the cases with nothing wrong, those in which no item was exchanged, on the way or at the end. *Missed*: of the cases with a fault, those in which “nothing wrong” was said. *Sound exchanged*: sound items exchanged in a case, on the way and at the end.",
        "",
        "| weapon | world | cases | with a fault | right | at once | missed | nothing wrong | left alone | trials | to the end | sound exchanged | stated at the end | ECE | by halves | Brier |",
        "| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    words = {world.name: world.words for world in WORLDS}
    for weapon, data in worlds.items():
        lines += [_row(weapon, words[name], figures) for name, figures in data.items()]
    lines += [
        "",
        "## Are stated probabilities honest?",
        "",
        "![Reliability](pictures/accuracy-reliability.svg)",
        "",
        "Each dot shows how far exchanging the first name cured at all the moments when it had about that probability. On the line, stated probabilities come true.",
        "",
        "## Compared with the best possible plan",
        "",
        "Exact dynamic programming on small sets taken from the weapons' own tables: four trials, twelve kinds of failure, real costs. The ratio is the expected cost of following the advice, divided by the least possible.",
        "",
        "| weapon | sets | mean ratio | worst ratio |",
        "| --- | ---: | ---: | ---: |",
    ]
    lines += [f"| {w} | {d['sets']} | {d['mean_ratio']:.3f} | {d['worst_ratio']:.3f} |" for w, d in found["small sets"].items()]
    lines += [
        "",
        "## Beside the program before",
        "",
        "`benchmarks/speed/cases.txt` keeps cases drawn from the state before faults had a readiness of their own (commit 682c21f); they behave as that program has it. Both programs play them from the same complaints, and one table of seconds prices both: `make speed BEFORE=PATH`.",
        "",
        "| weapon | program | cases | right | trials | on trials | to the end |",
        "| --- | --- | ---: | ---: | ---: | ---: | ---: |",
        *_speed(found["speed"]),
        "",
        "## What this does not show",
        "",
        "Whoever draws a plug that is not home says so in nine cases of ten. The bench with a meter is not in it. Trials made wrongly are not, nor is a fencer who exchanges something on the quiet. All complaints come from the left. The network behind the worlds is the program's own, and so are the failures but for the unknown ones. "
        "The checks from outside are the published cases (`foible score examples/published`) and the [rehearsals](rehearsals.md).",
        "",
    ]
    return "\n".join(lines)


def _lines(worlds: dict[str, Any]) -> Iterator[str]:
    """Yield what was asked for, what was measured, and whether that was kept."""
    by_world = {world.name: [worlds[weapon][world.name] for weapon in worlds] for world in WORLDS}
    others = {world.words: by_world[world.name] for world in WORLDS if world.name != OWN}
    own, fifth = by_world[OWN], by_world[NOTHING]
    right, error = _mean(own, "right"), _mean(own, "ece")
    least = min(others, key=lambda words: _mean(others[words], "right"))
    most = max(others, key=lambda words: _mean(others[words], "ece"))
    low, high = _mean(others[least], "right"), _mean(others[most], "ece")
    lowest = min(each["right"] for some in others.values() for each in some)
    alone, missed = _mean(fifth, "left_alone"), _mean(fifth, "nothing_of_fault")
    yield _line(f"right in the program's own world: {RIGHT_OWN:.0%}", f"{right:.1%}", kept=right >= RIGHT_OWN)
    yield _line(f"right in every other world: {RIGHT:.0%}", f"{low:.1%} at least ({least})", kept=low >= RIGHT)
    yield _line(
        f"right in every other world with each weapon: {RIGHT_EACH:.0%}", f"{lowest:.1%} at least", kept=lowest >= RIGHT_EACH
    )
    yield _line(f"ECE in the program's own world: {ECE_OWN} at most", f"{error:.3f}", kept=error <= ECE_OWN)
    yield _line(f"ECE in every other world: {ECE} at most", f"{high:.3f} at most ({most})", kept=high <= ECE)
    yield _line(f"nothing wrong in a fifth: {ALONE:.0%} of those left alone", f"{alone:.1%}", kept=alone >= ALONE)
    yield _line(f"in that world “nothing wrong” of a real fault: {MISSED:.0%} at most", f"{missed:.1%}", kept=missed <= MISSED)


def _speed(speed: dict[str, dict[str, dict[str, Any]]]) -> Iterator[str]:
    """Yield the figures of both programs, weapon by weapon and then of all cases."""
    for weapon, both in speed.items():
        for program, own in both.items():
            yield (
                f"| {weapon} | {program} | {own['cases']} | {own['right']:.1%} | {own['trials']:.1f} "
                f"| {own['trial_s']:.0f} s | {own['seconds']:.0f} s |"
            )


def _line(asked: str, measured: str, *, kept: bool) -> str:
    return f"| {asked} | {measured} | {'kept' if kept else '**missed**'} |"


def _mean(each: Sequence[dict[str, Any]], key: str) -> float:
    return float(sum(own[key] for own in each) / len(each))


def _row(weapon: str, world: str, own: dict[str, Any]) -> str:
    return (
        f"| {weapon} | {world} | {own['cases']} | {own['faults']} | {own['right']:.1%} | {own['right_at_once']:.1%} | {own['nothing_of_fault']:.1%} "
        f"| {own['sound']} | {own['left_alone']:.1%} | {own['trials']:.1f} | {own['to_the_end_s']:.0f} s | {own['wasted']:.2f} "
        f"| {own['stated']:.1%} | {own['ece']:.3f} | {own['ece_halves']:.3f} | {own['brier']:.3f} |"
    )


def _earlier(found: dict[str, Any]) -> list[str]:
    """Return the sentence that says what was measured on an earlier state of the program; nothing where nothing was."""
    earlier = {weapon: names for weapon, names in found.get("earlier", {}).items() if names}
    if not earlier:
        return []
    words = {world.name: world.words for world in WORLDS}
    told = [
        f"{weapon} in all worlds" if len(names) == len(words) else _of(weapon, names, words) for weapon, names in earlier.items()
    ]
    return [f"**Measured on an earlier state of the program, and not since:** {'; '.join(told)}.", ""]


def _of(weapon: str, names: Sequence[str], words: Mapping[str, str]) -> str:
    return f"{weapon} in all worlds but {', '.join(word for name, word in words.items() if name not in names)}"


def _reliability(found: dict[str, Any], path: Path) -> None:
    """Draw stated against true shares: the program's own world dark, the others light."""
    figure, axis = plt.subplots(figsize=(4.5, 4.5))
    axis.plot([0, 1], [0, 1], color="#999999", linewidth=0.8)
    for data in found["worlds"].values():
        for name, world in data.items():
            points = [point for point in world["reliability"] if point[2] >= FEWEST]
            if not points:
                continue
            stated, right, _ = zip(*points, strict=True)
            own = name == OWN
            axis.plot(stated, right, marker="o" if own else ".", color=INK if own else PALE, linewidth=1, zorder=3 if own else 2)
    axis.set_xlabel("stated probability of the first name")
    axis.set_ylabel("share that was right")
    axis.set_xlim(0, 1)
    axis.set_ylim(0, 1)
    figure.text(0.5, 0.01, "dark: the program's own world, a line for each weapon · light: the others", ha="center", fontsize=7)
    figure.tight_layout(rect=(0, 0.04, 1, 1))
    figure.savefig(path, metadata={"Date": None})
    plt.close(figure)
