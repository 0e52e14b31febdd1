"""The web application, put together from its settings."""

from __future__ import annotations

import asyncio
import math
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from anyio import to_thread
from fastapi import Depends, FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.responses import FileResponse, JSONResponse, PlainTextResponse, Response
from starlette.staticfiles import NotModifiedResponse, StaticFiles

from foible import __version__
from foible.errors import FoibleError
from foible.records.register import RegisterStore
from foible.services.kept_reading import UnreadableCaseError
from foible.services.opening import teacher_of_records
from foible.services.practice.groups import Groups
from foible.services.practice.progress import Progress
from foible.services.register.people import People
from foible.web import (
    act_pages,
    case_file_pages,
    case_pages,
    circuit_pages,
    device_pages,
    ending_api,
    new_case_pages,
    pages,
    photo_pages,
    watch_pages,
)
from foible.web.cards import CardTable
from foible.web.control import (
    budget_pages,
    competition_pages,
    control_api,
    fencer_pages,
    forecast_pages,
    import_pages,
    map_pages,
    meter_pages,
    morning_pages,
    reject_pages,
    report_pages,
    sheet_pages,
    shim_pages,
    testing_pages,
)
from foible.web.failures import ErrorBody, TooSoonError, as_json, error_body
from foible.web.hub import Hub
from foible.web.practice import (
    contents_pages,
    drill_pages,
    exercise_pages,
    group_pages,
    lesson_pages,
    progress_pages,
    screen_pages,
    strip_pages,
    trainer_pages,
    worksheet_pages,
)
from foible.web.practice.sheets import SheetTable
from foible.web.priority import AnswerPriority
from foible.web.register import (
    hand_over_pages,
    item_api,
    item_pages,
    item_photo_api,
    item_photo_pages,
    job_api,
    job_pages,
    label_pages,
    learned_api,
    learned_pages,
    part_api,
    part_pages,
    people_api,
    people_pages,
    search_pages,
    season_pages,
    sign_in_pages,
    trail_pages,
    transfer_api,
    transfer_pages,
)
from foible.web.register.permitted import permitted
from foible.web.request_log import Logged, Routed
from foible.web.rules import rule_pages
from foible.web.security import Defences, encrypted
from foible.web.sessions import Sessions
from foible.web.shared import FOLDER, MovedError, is_partial, page_before, render

if TYPE_CHECKING:
    from collections.abc import AsyncIterator
    from types import ModuleType

    from fastapi import Request
    from starlette.types import Scope

    from foible.services.cases import Cases
    from foible.web.settings import Settings

__all__ = ["create_app"]

DAYS_14 = 14 * 24 * 3600
"""How long a device stays joined [s]."""
COMPRESSED_FROM = 800
"""Answers of this size or more are compressed [byte]."""
SURFACES: tuple[ModuleType, ...] = (
    pages,
    device_pages,
    new_case_pages,
    circuit_pages,
    case_file_pages,
    case_pages,
    act_pages,
    photo_pages,
    ending_api,
    watch_pages,
    rule_pages,
    meter_pages,
    shim_pages,
    budget_pages,
)
"""The modules with routes that every device which has joined may use; the router of `ending_api` is that of `api` too."""
PRACTICE: tuple[ModuleType, ...] = (
    contents_pages,
    lesson_pages,
    strip_pages,
    drill_pages,
    progress_pages,
    trainer_pages,
    worksheet_pages,
    exercise_pages,
    screen_pages,
)
"""The modules with routes of the practice strip, for every device that has joined: nobody needs an account to learn."""
TAUGHT: tuple[ModuleType, ...] = (group_pages,)
"""The modules with routes for whoever teaches; `permitted` looks at them first, as at those of the register."""
CONTROL: tuple[ModuleType, ...] = (
    competition_pages,
    fencer_pages,
    testing_pages,
    reject_pages,
    report_pages,
    import_pages,
    forecast_pages,
    control_api,
    morning_pages,
    sheet_pages,
    map_pages,
)
"""The modules with routes of the control table; `permitted` looks at them first, as at those of the register."""
REGISTER: tuple[ModuleType, ...] = (
    sign_in_pages,
    people_pages,
    trail_pages,
    search_pages,
    hand_over_pages,
    item_pages,
    item_photo_api,
    item_photo_pages,
    job_pages,
    part_pages,
    item_api,
    job_api,
    part_api,
    people_api,
    transfer_api,
    learned_pages,
    season_pages,
    learned_api,
    label_pages,
    transfer_pages,
)
"""The modules with routes that `permitted` looks at first: who may do what in the register stands there."""
ABOUT = """Foible's diagnosis as JSON: send what was done and which lamps lit; get the suspects and the next trial.

Foible advises. The competition's own officials, the rulebook in force and qualified people decide."""


class _Static(StaticFiles):
    """Our own files, whose addresses change with their content; they are few and small, so each is read once and stays in memory.

    Reading a file from disk takes a handful of steps in threads, and at each of them it would wait behind the reasoning.
    """

    def __init__(self, directory: Path) -> None:
        super().__init__(directory=directory)
        self._read: dict[str, tuple[bytes, str | None, dict[str, str]]] = {}

    async def get_response(self, path: str, scope: Scope) -> Response:
        known = self._known(path) if scope["method"] in ("GET", "HEAD") else None
        response = known or await super().get_response(path, scope)
        if isinstance(response, FileResponse):
            body = await to_thread.run_sync(Path(response.path).read_bytes)
            headers = {name: response.headers[name] for name in ("etag", "last-modified")}
            self._read[path] = body, response.media_type, headers
        elif self.is_not_modified(response.headers, Headers(scope=scope)):
            response = NotModifiedResponse(response.headers)
        if scope.get("query_string"):
            response.headers["Cache-Control"] = "public, max-age=31536000, immutable"
        return response

    def _known(self, path: str) -> Response | None:
        """Return a file as it was read, in a new response each time: compression changes its headers."""
        if path not in self._read:
            return None
        body, media_type, headers = self._read[path]
        return Response(body, media_type=media_type, headers=headers)


def create_app(cases: Cases, settings: Settings) -> FastAPI:
    """Return the application that serves kept cases."""
    hub, priority = Hub(), AnswerPriority()

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        watching = asyncio.create_task(hub.watch(cases.store.versions, priority))
        yield
        hub.close()
        watching.cancel()

    app = FastAPI(
        title="Foible",
        version=__version__,
        description=ABOUT,
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
    )
    app.state.cases, app.state.settings, app.state.hub, app.state.priority = cases, settings, hub, priority
    app.state.cards = CardTable(cases.reasoning)
    app.state.sheets = SheetTable(cases.reasoning)
    for each in (*SURFACES, *PRACTICE):
        app.include_router(each.router)
    _open_register(app, cases)
    app.mount("/static", _Static(FOLDER / "static"), name="static")
    app.add_middleware(Routed)
    app.add_middleware(GZipMiddleware, minimum_size=COMPRESSED_FROM, compresslevel=4)
    app.add_middleware(Defences, settings=settings)
    app.add_middleware(Sessions, secret_key=settings.secret, encrypted=partial(encrypted, proxy=settings.proxy), max_age=DAYS_14)
    app.add_middleware(Logged)
    app.add_exception_handler(UnreadableCaseError, _unreadable)
    app.add_exception_handler(MovedError, _moved)
    app.add_exception_handler(FoibleError, _foible_error)
    app.add_exception_handler(HTTPException, _http_error)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(Exception, _unforeseen)
    return app


def _open_register(app: FastAPI, cases: Cases) -> None:
    """Take in the pages of the register, and have ready what they ask for: items and jobs, people, and what it teaches."""
    database = cases.store.database
    app.state.register = RegisterStore(database, clock=lambda: datetime.now(UTC))
    app.state.people = People(app.state.register)
    app.state.teacher = teacher_of_records(database)
    app.state.progress, app.state.groups = Progress(database), Groups(app.state.register)
    for each in (*REGISTER, *CONTROL, *TAUGHT):
        app.include_router(each.router, dependencies=[Depends(permitted)])
    app.state.sections = {route.path for each in REGISTER for route in each.router.routes}


async def _moved(_: Request, error: Exception) -> Response:
    """Send a former name's address on to today's, and say so."""
    assert isinstance(error, MovedError)  # noqa: S101 — registered for it
    return PlainTextResponse(f"{error.notice}.\n", 308, {"Location": error.address})


def _answered(request: Request, error: ErrorBody) -> Response:
    """Return an error in the form asked for."""
    if request.url.path.startswith("/api"):
        problems = [problem.model_dump() for problem in error.problems]
        told = as_json(error.status, error.seen, error.remedy, problems)
        if error.clash:
            told["error"]["clash"] = error.clash.model_dump()
        return JSONResponse(told, error.status)
    sent = request.method not in {"GET", "HEAD"}
    if is_partial(request):
        return render(request, "_refused.html", error=error, sent=sent, status=error.status)
    return render(request, "error.html", error=error, sent=sent, back=page_before(request), status=error.status)


async def _foible_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, FoibleError)  # noqa: S101 — registered for it
    response = _answered(request, error_body(error))
    if isinstance(error, TooSoonError):
        response.headers["Retry-After"] = f"{math.ceil(error.wait_s)}"
    return response


async def _unreadable(request: Request, error: Exception) -> Response:
    """Show the lines of a case whose weapon the kit does not have; anything else asked of it is refused."""
    assert isinstance(error, UnreadableCaseError)  # noqa: S101 — registered for it
    pages = (f"/cases/{error.kept.id}", f"/cases/{error.kept.id}/print")
    if request.method == "GET" and request.url.path in pages and not is_partial(request):
        return render(request, "unreadable.html", kept=error.kept, error=error)
    return _answered(request, error_body(error))


async def _http_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)  # noqa: S101 — registered for it
    words = {
        404: ("there is no page at this address", "go back to the start page"),
        405: ("this address does not accept that kind of request", "go back to the start page"),
    }
    seen, remedy = words.get(error.status_code, (str(error.detail), "try again"))
    response = _answered(request, ErrorBody(status=error.status_code, seen=seen, remedy=remedy))
    response.headers.update(error.headers or {})
    return response


async def _invalid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)  # noqa: S101 — registered for it
    problems = [
        {
            "where": ".".join(str(step) for step in each["loc"]),
            "seen": str(each["msg"]),
            "remedy": "see /api for what is expected",
        }
        for each in error.errors()
    ]
    first = problems[0]
    return _answered(
        request,
        ErrorBody.model_validate(
            {"status": 422, "seen": f"{first['where']}: {first['seen']}", "remedy": first["remedy"], "problems": problems}
        ),
    )


async def _unforeseen(request: Request, error: Exception) -> Response:
    del error  # the server's log has it
    return _answered(
        request,
        ErrorBody(status=500, seen="something went wrong inside Foible", remedy="nothing has been lost: go back and try again"),
    )
