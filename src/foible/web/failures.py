"""Errors: reported in one shape by the API, and on one page to people."""

from __future__ import annotations

import math
from typing import Any

from pydantic import BaseModel

from foible.errors import ClashError, FoibleError, InputError, KeepingError, ProblemsError
from foible.records.register.turn import plain_value

__all__ = ["ErrorBody", "ErrorShape", "ForbiddenError", "TooSoonError", "as_json", "error_body"]


class ForbiddenError(InputError):
    """Something that may not be done from where it was requested."""

    http_status = 403


class TooSoonError(InputError):
    """Another try too soon after a wrong passphrase."""

    http_status = 429

    def __init__(self, *, wait_s: float) -> None:
        self.wait_s = wait_s
        super().__init__(seen="too many wrong passphrases", remedy=f"wait {math.ceil(wait_s)} s and try again")


class ProblemShape(BaseModel):
    """One thing that is wrong."""

    where: str
    seen: str
    remedy: str


class ClashShape(BaseModel):
    """What somebody else has changed meanwhile: the version and the fields that are there now, and those that were wanted."""

    version: int
    now: dict[str, Any]
    wanted: dict[str, Any]


class ErrorBody(BaseModel):
    """What went wrong: what was seen, what to do, each problem where there are several, and both sides of a clash."""

    status: int
    seen: str
    remedy: str
    problems: list[ProblemShape] = []
    clash: ClashShape | None = None


class ErrorShape(BaseModel):
    """The one shape of every error of the API."""

    error: ErrorBody


def as_json(status: int, seen: str, remedy: str, problems: list[dict[str, str]] | None = None) -> dict[str, Any]:
    """Return an error in the one shape."""
    return {"error": {"status": status, "seen": seen, "remedy": remedy, "problems": problems or []}}


def error_body(error: FoibleError) -> ErrorBody:
    """Return the content of an error."""
    status = error.http_status
    if isinstance(error, ProblemsError):
        problems = [
            ProblemShape(where=p.file if p.line is None else f"{p.file}:{p.line}", seen=p.seen, remedy=p.remedy)
            for p in error.problems
        ]
        first = problems[0]
        return ErrorBody(status=status, seen=first.seen, remedy=first.remedy, problems=problems)
    if isinstance(error, ClashError):
        clash = ClashShape(version=error.version, now=plain_value(error.now), wanted=plain_value(error.wanted))
        return ErrorBody(status=status, seen=error.seen, remedy=error.remedy, clash=clash)
    if isinstance(error, InputError | KeepingError):
        return ErrorBody(status=status, seen=error.seen, remedy=error.remedy)
    return ErrorBody(status=status, seen=str(error), remedy="try again; if that does not help, restart Foible")
