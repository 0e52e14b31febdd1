"""An instrument and a limit in; out, which of its readings pass, fail or are too close to call; no competition is needed."""

from __future__ import annotations

from dataclasses import fields
from itertools import groupby
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse  # noqa: TC002 — FastAPI reads the annotation

from foible.errors import InputError
from foible.services.control.figures import figure, rounded
from foible.services.control.instruments import (
    LEADS,
    SURE,
    UNITS,
    Fields,
    fields_of,
    instrument_in,
    told,
    tool_words,
    usual_for,
    usual_named,
    usuals,
)
from foible.services.control.verdicts import OFFICIALS, RULES, chance_words, limit_asked, limits_with_room, rule_named
from foible.web.lanes import looks_up
from foible.web.shared import render, settings_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/control")
OWN = "my own"
"""What the form calls the instrument whose figures are typed in."""
USUAL_LIMIT = "cord-wire"
"""The limit that the page opens with: most readings near one are of a wire."""
Short = Annotated[str, Query(max_length=120)]


# long: a form of four choices, and what its page shows
@router.get("/meter")
@looks_up
def meter(
    request: Request,
    limit: Short = USUAL_LIMIT,
    instrument: Short = "",
    rule: Short = RULES[1].value,
    risk: Short = "5",
) -> HTMLResponse:
    """Show what an instrument can tell of a limit."""
    overlays, values = settings_of(request).rules, {each.name: request.query_params.get(each.name) for each in fields(Fields)}
    typed = Fields(**{name: value[:120] for name, value in values.items() if value is not None})
    shown: dict[str, object] = {"said": None, "problem": None}
    status = 200
    try:
        asked = limit_asked(limit, overlays=overlays)
        chosen = instrument_in(typed) if instrument == OWN else usual_named(instrument) if instrument else usual_for(asked)
        if instrument != OWN:
            typed = fields_of(chosen)
        percent = figure(risk, "risk", least=0.1, most=49)
        shown["said"] = told(chosen, asked, rule=rule_named(rule), risk=percent / 100)
        instrument = instrument or chosen.name
    except InputError as error:
        shown["problem"], status = error, error.http_status
    among = [(kind, list(each)) for kind, each in groupby(limits_with_room(overlays=overlays), key=lambda each: each.kind_words)]
    return render(
        request,
        "control/meter.html",
        status,
        limit=limit,
        among=among,
        chosen=instrument,
        usuals=usuals(),
        own=OWN,
        fields=typed,
        tools=tool_words(),
        units=UNITS,
        leads=LEADS,
        sure=SURE,
        rules=RULES,
        rule=rule,
        risk=risk,
        chance=chance_words,
        rounded=rounded,
        officials=OFFICIALS,
        **shown,
    )
