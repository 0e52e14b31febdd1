"""Runs in; their steps and the totals in words out."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from benchmarks.rehearsal.play import Run
    from benchmarks.rehearsal.scenario import Scenario

__all__ = ["figures", "page", "run_text", "totals"]

ABOUT = {
    "rehearsals": ("Rehearsals", ""),
    "held-out": (
        "Rehearsals held back",
        (
            "Whoever wrote them had the other forty as models of form, and had seen nothing of the advice. Played blind,\n"
            "on commit f978348, before anything was mended with an eye to them: right ending 81.5%, good among the first three\n"
            "75.9%, runs with a bad step 34.0%, both limits kept 55.0%, passed 31.5%. That, and not the forty, is how the\n"
            "advice does with faults that it was not mended with. Mended since, with an eye to them: complaints that no\n"
            "failure alone can show are mostly told of sound kit, and are tried once before “nothing wrong” is said; a plug\n"
            "that is not home cuts nothing once it is drawn, and is looked at first; a reading that jumps at a tug settles the\n"
            "joint, a gauge that fails twice the weapon; a test box is not asked where a meter has read; what is seen is put\n"
            "right in seconds, and a hit is made by the fencer who complains."
        ),
    ),
    "held-out-2": (
        "Rehearsals held back, the second set",
        (
            "Whoever wrote them had the other sixty as models of form, and had seen nothing of the advice. Played blind,\n"
            "on commit 6e0a82b: right ending 79.8%, good among the first three 90.3%, runs with a bad step 23.5%, both limits\n"
            "kept 78.5%, passed 52.5%; on f2536c5, before the first set held back was mended with an eye to, 79.2, 88.5, 23.5,\n"
            "79.0 and 52.5%. They showed two slips since mended: the oracle did not say which lamps stayed dark, as the pages\n"
            "do, and a reading told the other way round was never proved."
        ),
    ),
}
"""Title and further words of the page, by the name of the file."""
SHORT = ("right ending", "first three good", "bad step", "limits kept", "passed", "right in the end")
"""What the columns of a scenario are called, in the order of `figures`."""


def run_text(scenario: Scenario, run: Run) -> str:
    """Return a run in words, step by step."""
    told = run.judged
    lines = [
        f"    {word:8}{say} → {answer}" + (f"  [{why}]" if why else "")
        for (say, word, why), answer in zip(told.steps, run.answers, strict=True)
    ]
    acts = " + ".join(f"{kind}: {name}" if name else kind for kind, name, _ in run.ended.acts) if run.ended else "none"
    doubt = ", ".join(f"{name} {share:.0%}" for name, share in run.shares)
    worth = {1.0: "right", 0.5: "half", 0.0: "wrong"}[told.ending]
    limits = "" if told.in_limits else f" over the limits of {scenario.max_trials} trials, {scenario.max_seconds:g} s;"
    verdict = "passed" if told.passed else "NOT passed"
    lines.append(f"    {doubt}")
    lines.append(f"    ends: {acts} ({worth}); {told.trials} trials, {told.seconds:g} s;{limits} {verdict}")
    return "\n" + "\n".join(lines)


def figures(chosen: Sequence[Scenario], runs: Mapping[str, Sequence[Run]]) -> dict[str, float | None]:
    """Return the shares that README.md asks for; None for one of nothing, as of the steps where each run ends at once."""
    every = [run.judged for scenario in chosen for run in runs[scenario.id]]
    first = [good for told in every for good in told.first]
    count = max(len(every), 1)
    return {
        "right ending": sum(told.ending for told in every) / count,
        "good among the first three": sum(first) / len(first) if first else None,
        "runs with a bad step": sum(bool(told.bad) for told in every) / count,
        "both limits kept": sum(told.in_limits for told in every) / count,
        "passed": sum(told.passed for told in every) / count,
        "right in the end": sum(run.in_the_end for scenario in chosen for run in runs[scenario.id]) / count,
    }


def page(chosen: Sequence[Scenario], runs: Mapping[str, Sequence[Run]], seeds: int, file: str) -> str:
    """Return the page of docs/ that says how the advice did with the scenarios of a file, named without its ending."""
    title, about = ABOUT.get(file, (file, ""))
    lines = [
        f"# {title}",
        "",
        f"{len(chosen)} scripted faults, each played {seeds} times against the program's own advice and judged step by step",
        "as a master would; [how they are told and counted](../benchmarks/rehearsal/README.md).",
        f"`python -m benchmarks.rehearsal --page docs/{title.lower().replace(' ', '-')}.md benchmarks/rehearsal/{file}.toml`",
        "writes this page.",
        "They are common practice without a source, unless the scenario names one.",
        *([about] if about else []),
        "*Right in the end*: where each ending is carried out and proved, and one whose proof fails leads on to another;",
        "all other figures end with the first ending.",
        "",
        "| all of them | share |",
        "| --- | ---: |",
        *(f"| {name} | {_cell(share, 1)} |" for name, share in figures(chosen, runs).items()),
        "",
        f"| scenario | kind | {' | '.join(SHORT)} | trials | seconds |",
        f"| --- | --- |{' ---: |' * (len(SHORT) + 2)}",
    ]
    for scenario in chosen:
        own = [run.judged for run in runs[scenario.id]]
        shares = figures([scenario], runs).values()
        trials, seconds = (sum(values) / len(own) for values in zip(*((told.trials, told.seconds) for told in own), strict=True))
        cells = " | ".join(_cell(share, 0) for share in shares)
        lines.append(f"| {scenario.title} | {scenario.kind} | {cells} | {trials:.1f} | {seconds:.0f} |")
    return "\n".join(lines) + "\n"


def _cell(share: float | None, places: int) -> str:
    return "–" if share is None else f"{share:.{places}%}"


def totals(chosen: Sequence[Scenario], runs: Mapping[str, Sequence[Run]]) -> str:
    """Return the totals and the commonest bad steps in words."""
    lines = ["", "Totals", *(f"  {name:28}{_cell(share, 1):>6}" for name, share in figures(chosen, runs).items())]
    twice = [
        scenario.id
        for scenario in chosen
        if any(count > 1 for run in runs[scenario.id] for count in Counter(run.judged.bad).values())
    ]
    lines.append(f"  the same bad step twice in one run: {', '.join(twice) or 'never'}")
    bad = Counter(f"{scenario.id}: {why}" for scenario in chosen for run in runs[scenario.id] for why in set(run.judged.bad))
    lines += [f"  {count:4} runs  {what}" for what, count in bad.most_common()]
    return "\n".join(lines)
