"""Between a case and a job card: an item handed to the workshop with the evidence, and what its case at the bench came to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from foible.errors import InputError
from foible.kit import SIDES
from foible.records.register import NewJob, change_job, job_for_case, known_as
from foible.services.proving import LineState
from foible.services.register.jobs import begun
from foible.services.register.kinds import bare

if TYPE_CHECKING:
    from datetime import date

    from foible.records.register import Job, RegisteredItem, Turn
    from foible.services.cases import Standing
    from foible.services.proving import Proving

__all__ = ["bring_back", "evidence_of", "hand_over", "title_codes"]

MOST_SUSPECTS = 5
LIKELY = 0.5
"""From this probability on, what was mended is filled in on the card as found; below it, whoever mends chooses."""
LEAST = 0.01
"""Suspects less probable than this are not written on a job card."""


def hand_over(  # noqa: PLR0913 — a case, what of it, and when
    turn: Turn, standing: Standing, item: RegisteredItem, thing: str, *, promised: date | None = None, token: str | None = None
) -> Job:
    """Open a job on a registered item, with what a case shows of `thing`, the item of the set-up that it is.

    Raises InputError where that is another kind of item.
    """
    in_setup = standing.case.setup.items[thing]
    if in_setup.kind != item.kind or (item.weapon and item.weapon != standing.case.setup.weapon):
        seen = f"{item.code} is a {item.weapon or ''} {item.kind}".replace("  ", " ")
        raise InputError(seen=seen, remedy=f"name the {standing.case.setup.weapon} {in_setup.kind} of this case")
    new = NewJob(
        item.id,
        complaint=standing.kept.complaint or standing.kept.title,
        case_id=standing.kept.id,
        evidence=evidence_of(standing, thing),
        promised=promised,
        token=token,
    )
    return begun(turn, item, new)


def bring_back(turn: Turn, standing: Standing, proving: Proving | None) -> Job | None:
    """Write what a case about an item on the bench has come to on the card of the open job that it was opened for.

    Nothing is noted as found or done by it: whoever mends says so on the card, where it is filled in. None where there is no such
    job. Doing so again changes nothing.
    """
    job, thing = job_for_case(turn.session, standing.kept.id), standing.situation.item
    if job is None or thing is None:
        return None
    came_to: dict[str, Any] = {"ending": standing.kept.ending.value if standing.kept.ending else ""}
    came_to |= {"found": [], "repairs": [], "proof": []}
    if proving is not None:
        mended = [each for each in proving.behind if each.item == thing]
        likely = mended[0] if mended and mended[0].probability >= LIKELY else None
        came_to |= {
            "found": [bare(likely.failure.id)] if likely else [],
            "repairs": sorted({each.failure.repair for each in mended if each.failure.repair}),
            "proof": [f"{line.say} → {line.shows}" for line in proving.lines if line.state is LineState.PASSED],
        }
    return change_job(turn, job.id, {"evidence": evidence_of(standing, thing) | came_to}, version=None)


def evidence_of(standing: Standing, thing: str) -> dict[str, Any]:
    """Return what a case shows of an item: its trials in words, and what is suspected of it with what probability."""
    finding = standing.diagnosis.finding
    share = next((each.probability for each in finding.items if each.name == thing), 0.0)
    suspects = [
        {"failure": bare(each.failure.id), "probability": round(each.probability, 4), "repair": each.failure.repair or ""}
        for each in finding.suspects
        if each.item == thing and each.probability >= LEAST
    ]
    said = [standing.sentence(entry) for entry in standing.kept.standing if entry.number in standing.numbers]
    results = [", ".join(entry.trial.get("saw", ())) for entry in standing.kept.standing if entry.number in standing.numbers]
    return {
        "title": standing.kept.title,
        "probability": round(share, 4),
        "trials": [f"{say} — {saw}" if saw else say for say, saw in zip(said, results, strict=True)],
        "suspects": suspects[:MOST_SUSPECTS],
    }


def title_codes(title: str) -> list[str]:
    """Return what may be a code in a case's title: whoever opens a case about an item has its code in front."""
    return [known_as(word) for word in title.replace(":", " ").split()[:1] if word not in SIDES]
