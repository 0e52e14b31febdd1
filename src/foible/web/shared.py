"""What every page needs: templates, and how a request finds its cases."""

from __future__ import annotations

import hashlib
import io
import secrets
from contextlib import contextmanager
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast
from urllib.parse import unquote, urlsplit

import segno
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.responses import HTMLResponse, RedirectResponse, Response

from foible import __version__
from foible.drawing import STYLE
from foible.errors import NotFoundError, UnknownNameError
from foible.output.lamp_words import lamp_words
from foible.output.words import (
    duration_words,
    held_words,
    lit_words,
    money_words,
    percent,
    telling_words,
    tool_words,
    weight_words,
)
from foible.practice.words import words_met
from foible.services.given_names import GivenNames
from foible.situation import Mode
from foible.web.security import device, is_here, session_token

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import datetime

    from fastapi import Request

    from foible.kit import Weapon
    from foible.services.cases import Cases
    from foible.web.hub import Hub
    from foible.web.priority import AnswerPriority
    from foible.web.settings import Settings

__all__ = [
    "FOLDER",
    "MovedError",
    "cases_of",
    "drawn",
    "hub_of",
    "in_address",
    "is_partial",
    "names_of",
    "page_before",
    "priority_of",
    "qr_code",
    "redirect",
    "render",
    "settings_of",
    "texts",
    "weapon_of",
]

FOLDER = Path(str(files("foible.web")))


@lru_cache
def _environment() -> Environment:
    made = Environment(
        loader=FileSystemLoader(FOLDER / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {"percent": percent, "duration": duration_words, "weight": weight_words, "lit": lit_words}
    made.filters |= {"moment": _moment, "telling": telling_words, "tool": tool_words}
    made.filters |= {"held": held_words, "money": money_words, "words_met": words_met}
    made.filters["lamps"] = lambda shows, weapon: ", ".join(lamp_words(shows.split(", "), weapon))
    made.filters["sentence"] = lambda words: f"{words[:1].upper()}{words[1:]}"
    made.globals |= {
        "asset": _asset,
        "version": __version__,
        "drawing_version": hashlib.sha256(STYLE.encode()).hexdigest()[:12],
        "Mode": Mode,
        "token": secrets.token_hex,
    }
    return made


def _moment(when: datetime) -> Markup:
    """Return a moment in the local time of this machine, which the script turns into that of the device."""
    return Markup('<time datetime="{}">{}</time>').format(when.isoformat(), when.astimezone().strftime("%-d %b %Y %H:%M %Z"))


@lru_cache
def _asset(name: str) -> str:
    """Return the address of a static file, which changes with its content, so that browsers can cache it for good."""
    digest = hashlib.sha256((FOLDER / "static" / name).read_bytes()).hexdigest()[:12]
    return f"/static/{name}?{digest}"


def render(request: Request, template: str, status: int = 200, **values: object) -> HTMLResponse:
    """Return a page made from a template."""
    known = {
        "csrf": session_token(request),
        "device": device(request),
        "here": is_here(request.scope),
        "shared": settings_of(request).shared,
        "scripted": is_partial(request),  # a part of a page is asked for by a script, which would read <noscript> too
        "own_address": str(request.url.replace(scheme="", netloc="")),
    }
    text = _environment().get_template(template).render(known | values)
    return HTMLResponse(text, status)


def page_before(request: Request) -> str:
    """Return the address of our own page from which somebody came, or sent a form; "" where that is not told."""
    told = urlsplit(request.headers.get("referer", ""))
    if told.netloc != request.headers.get("host") or not told.path.startswith("/") or told.path.startswith("//"):
        return ""
    return f"{told.path}?{told.query}" if told.query else told.path


def redirect(request: Request, to: str) -> Response:
    """Return a redirect to another page, whether a form or a part of a page asks."""
    if is_partial(request):
        return Response(status_code=200, headers={"HX-Redirect": to})
    return RedirectResponse(to, 303)


def is_partial(request: Request) -> bool:
    """Return whether only a part of the page is asked for."""
    return request.headers.get("hx-request") == "true"


@contextmanager
def in_address() -> Iterator[None]:
    """Within this block, an unknown name is one in the address, so the address does not exist."""
    try:
        yield
    except UnknownNameError as error:
        raise NotFoundError(what=error.what, name=error.name, known=error.known, all_named=error.all_named) from error


class MovedError(Exception):
    """An address with a weapon's former name: where the same thing is today, and the notice that says so."""

    def __init__(self, address: str, notice: str) -> None:
        super().__init__(f"{notice}: {address}")
        self.address, self.notice = address, notice


def weapon_of(request: Request, word: str) -> Weapon:
    """Return the weapon that an address names. Raises NotFoundError, and MovedError for a former name."""
    given, reasoning = names_of(request), cases_of(request).reasoning
    with in_address():
        weapon = reasoning.weapon(given.weapon(word))
    if given.notices:
        steps = [weapon.word if unquote(step) == word else step for step in request.url.path.split("/")]
        raise MovedError(str(request.url.replace(scheme="", netloc="", path="/".join(steps))), str(given.notices[0]))
    return weapon


def cases_of(request: Request) -> Cases:
    """Return the service of kept cases."""
    return cast("Cases", request.app.state.cases)


def names_of(request: Request) -> GivenNames:
    """Return what reads the names of this request, former ones among them."""
    return GivenNames(cases_of(request).reasoning.overlays)


def hub_of(request: Request) -> Hub:
    """Return what notifies other devices of changes."""
    return cast("Hub", request.app.state.hub)


def priority_of(request: Request) -> AnswerPriority:
    """Return what decides whose turn it is."""
    return cast("AnswerPriority", request.app.state.priority)


def settings_of(request: Request) -> Settings:
    """Return the server's settings."""
    return cast("Settings", request.app.state.settings)


def texts(form: Mapping[str, Any]) -> dict[str, str]:
    """Return the text fields of a form."""
    return {key: value for key, value in form.items() if isinstance(value, str)}


def qr_code(text: str) -> Markup:
    """Return a QR code as a drawing (ISO/IEC 18004, by segno)."""
    out = io.BytesIO()
    segno.make(text, error="m").save(out, kind="svg", xmldecl=False, svgclass="code", lineclass=None, border=2, omitsize=True)
    return drawn(out.getvalue().decode())


def drawn(svg: str) -> Markup:
    """Return our own drawing as safe markup."""
    return Markup(svg)  # noqa: S704 — the drawing escapes every name it shows
