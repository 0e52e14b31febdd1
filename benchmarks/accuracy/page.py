"""The page of figures and its pictures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import matplotlib as mpl

mpl.use("svg")
import matplotlib.pyplot as plt

from benchmarks.accuracy.world import WORLDS

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["FIGURES", "page", "write"]

FIGURES = "accuracy.json"
INK = "#33475b"
SHADES = ("#33475b", "#7d8fa1", "#b9a06a", "#c9d2da")


def write(found: dict[str, Any], docs: Path) -> None:
    """Write docs/accuracy.md and its two pictures from the figures."""
    mpl.rcParams["svg.hashsalt"] = "foible"  # the same figures give the same bytes
    _reliability(found, docs / "pictures" / "accuracy-reliability.svg")
    _seconds(found, docs / "pictures" / "accuracy-seconds.svg")
    (docs / "accuracy.md").write_text(page(found), encoding="utf-8")


# long: a page of prose, from its top to its bottom
def page(found: dict[str, Any]) -> str:
    """Return the page."""
    words = {world.name: world.words for world in WORLDS}
    piste, on_bench = found["piste"], found["bench"]
    lines = [
        "# How right, how fast, how honest",
        "",
        f"Simulated faults, diagnosed by following Foible's own advice. [Rehearsals](rehearsals.md) judge the advice itself. `make accuracy` writes this page (seed {found['seed']}, about half an hour on two cores).",
        "",
        "A case begins with a complaint: something common happens (a hit, crossed blades, standing still), the lamps do not show what they would with sound kit, and the referee sees it too. Nobody complains of "
        "a fault that never shows, so it makes no case. What each trial shows is worked out on a network made for that case, not from the tables behind the advice.",
        "",
        "## At the piste: which item to exchange",
        "",
        "Spare items at hand, no meter. *Right*: the item named at the end is the one that failed (with two failures, either). *Seconds*: mean time spent on trials. "
        "*ECE*: expected calibration error of the first item's stated probability, after every trial, in ten bins. *Brier*: mean squared difference between the stated probability and 1 (right) or 0 (wrong).",
        "",
        "| weapon | world | cases | right | trials | seconds | stated at the end | ECE | Brier |",
        "| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for weapon, data in piste.items():
        lines += [_row(weapon, words[name], world) for name, world in data["worlds"].items()]
    lines += [
        "",
        "### Compared with plainer ways to choose (the model's own world)",
        "",
        "All of them stop when one item is as certain as it usually is when the advice stops. *Bits per second*: always the trial with the most information per second. *Fixed order*: the best order found, built trial by trial on 300 other "
        "cases and then improved by exchanging neighbours. *Swapping at random*: items exchanged in random order, each followed by a test that is taken to be conclusive. *Entropy bound*: no choice of trials can be "
        "faster than the bits to be gained, divided by the most bits per second that any table of outcomes can carry (channel capacity, Blahut 1972, Arimoto 1972).",
        "",
        "| weapon | advice | bits per second | fixed order | swapping at random | entropy bound |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for weapon, data in piste.items():
        own, greedy, fixed = data["worlds"]["own"], data["greedy"], data["fixed"]
        less = 1 - own["seconds"] / fixed["seconds"]
        lines.append(
            f"| {weapon} | {own['seconds']:.0f} s, right {own['right']:.1%} | {greedy['seconds']:.0f} s, {greedy['right']:.1%} "
            f"| {fixed['seconds']:.0f} s, {fixed['right']:.1%} ; the advice takes {less:.0%} less | {data['swapping']['seconds']:.0f} s | {data['bound']['seconds']:.1f} s ({data['bound']['bits']:.2f} bits) |"
        )
    lines += [
        "",
        "![Mean seconds by way of choosing](pictures/accuracy-seconds.svg)",
        "",
        "### Compared with the best possible plan",
        "",
        "Exact dynamic programming on small sets taken from the weapons' own tables: four trials, twelve kinds of failure, real costs. The ratio is the expected cost of following the advice, divided by the least possible.",
        "",
        "| weapon | sets | mean ratio | worst ratio |",
        "| --- | ---: | ---: | ---: |",
    ]
    lines += [f"| {w} | {d['sets']} | {d['mean_ratio']:.3f} | {d['worst_ratio']:.3f} |" for w, d in found["small sets"].items()]
    lines += [
        "",
        "## On the bench: which repair",
        "",
        "The item that failed is on the bench, after the same kind of complaint, with meter, test box, weight, shims and hand tools. *Right*: the repair named at the end is the one the fault needs.",
        "",
        "| weapon | world | cases | right | trials | minutes | stated at the end | ECE | Brier |",
        "| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for weapon, data in on_bench.items():
        lines += [
            _row(weapon, words[name], {**world, "seconds": world["seconds"] / 60}, digits=1)
            for name, world in data["worlds"].items()
        ]
    lines += [
        "",
        "By item, in the model's own world: "
        + "; ".join(
            f"{weapon}: "
            + ", ".join(
                f"{item.removeprefix('left ')} {share['right']:.0%} of {share['cases']}" for item, share in data["items"].items()
            )
            for weapon, data in on_bench.items()
        )
        + ".",
        "",
        "## Are stated probabilities honest?",
        "",
        "![Reliability](pictures/accuracy-reliability.svg)",
        "",
        "Each dot shows how often the first name was right at all the moments when it had about that probability. On the line, stated probabilities come true.",
        "",
        "## The program as it stands, pairs and all",
        "",
        "For speed, the reasoning in the runs above considers single failures only (though two may be drawn). Here the whole program, `Reasoner.find` with all pairs, decides trial by trial.",
        "",
        "| weapon | world | cases | right | trials | seconds | stated at the end | ECE | Brier |",
        "| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for weapon, data in found["whole program"].items():
        lines += [_row(weapon, words[name], world) for name, world in data["worlds"].items()]
    lines += [
        "",
        "## What this does not show",
        "",
        "The worlds differ from the model only in what they are named for. Faults that the kit files do not know, trials made wrongly, and people who report what they expected to see are not in them, and how often a fault "
        "that comes and goes shows itself is the model's own figure. The check from outside is the published cases (`foible score examples/published`).",
        "",
    ]
    return "\n".join(lines)


def _row(weapon: str, world: str, data: dict[str, Any], *, digits: int = 0) -> str:
    return (
        f"| {weapon} | {world} | {data['cases']} | {data['right']:.1%} | {data['trials']:.1f} | {data['seconds']:.{digits}f} "
        f"| {data['stated']:.1%} | {data['ece']:.3f} | {data['brier']:.3f} |"
    )


def _reliability(found: dict[str, Any], path: Path) -> None:
    """Draw stated against true shares: piste and bench, the own world dark, the others light."""
    figure, axes = plt.subplots(1, 2, figsize=(8, 4), sharey=True)
    for axis, place in zip(axes, ("piste", "bench"), strict=True):
        axis.plot([0, 1], [0, 1], color="#999999", linewidth=0.8)
        for data in found[place].values():
            for name, world in data["worlds"].items():
                points = [point for point in world["reliability"] if point[2] >= 20]  # noqa: PLR2004 — fewer say little
                stated, right, _ = zip(*points, strict=True)
                own = name == "own"
                axis.plot(
                    stated,
                    right,
                    marker="o" if own else ".",
                    color=INK if own else SHADES[3],
                    linewidth=1,
                    zorder=3 if own else 2,
                )
        axis.set_title(place)
        axis.set_xlabel("stated probability of the first name")
        axis.set_xlim(0, 1)
        axis.set_ylim(0, 1)
    axes[0].set_ylabel("share that was right")
    figure.text(
        0.5, 0.01, "dark: the model's own world, a line for each weapon · light: the other worlds", ha="center", fontsize=8
    )
    figure.tight_layout(rect=(0, 0.04, 1, 1))
    figure.savefig(path, metadata={"Date": None})
    plt.close(figure)


def _seconds(found: dict[str, Any], path: Path) -> None:
    """Draw the mean seconds of each way to choose, by weapon."""
    ways = ("advice", "bits per second", "fixed order", "swapping")
    figure, axis = plt.subplots(figsize=(8, 3))
    for number, (weapon, data) in enumerate(found["piste"].items()):
        values = [
            data["worlds"]["own"]["seconds"],
            data["greedy"]["seconds"],
            data["fixed"]["seconds"],
            data["swapping"]["seconds"],
        ]
        for i, value in enumerate(values):
            axis.barh(number + 0.2 * i, value, height=0.18, color=SHADES[i], label=ways[i] if number == 0 else None)
            axis.text(value + 4, number + 0.2 * i, f"{value:.0f}", va="center", fontsize=7)
        axis.text(-6, number + 0.3, weapon, ha="right", va="center")
    axis.set_yticks([])
    axis.invert_yaxis()
    axis.set_xlabel("mean seconds at the piste")
    axis.legend(fontsize=7, frameon=False)
    figure.tight_layout()
    figure.savefig(path, metadata={"Date": None})
    plt.close(figure)
