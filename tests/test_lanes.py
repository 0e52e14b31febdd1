"""Every endpoint says where its work is done; what is cheap waits for no reasoning, and what reasons waits for its turn."""

from __future__ import annotations

import asyncio
import re
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import httpx
import pytest
from fastapi.routing import APIRoute

from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.reasoning import Reasoning
from foible.web import Settings, api, case_file_pages, case_pages, create_app, device_pages, new_case_pages, pages, photo_pages
from foible.web.lanes import LANES, lane_of, looks_up, on_loop, reasons
from foible.web.shared import FOLDER

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from fastapi import FastAPI

ENDPOINTS = {
    f"{'/'.join(sorted(route.methods or ()))} {route.path}": route.endpoint
    for module in (pages, device_pages, new_case_pages, case_pages, case_file_pages, photo_pages, api)
    for route in module.router.routes
    if isinstance(route, APIRoute)
}
SAYS = "It goes white, and I never hit anything"
CHEAP = (
    "/",
    "/new/foil",
    "/new/epee",
    "/card/foil",
    "/case-file",
    "/join",
    "/share",
    "/devices",
    "/help",
    "/api",
    "/drawing.css",
    "/static/foible.css",
    "/api/cases",
    "/api/weapons/foil/complaints",
    "/api/weapons/foil/trials",
)
"""Pages and lists that take no reasoning."""


@pytest.fixture
def app(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[FastAPI]:
    """Return an application in which reasoning fails; a field card is drawn up aside, and here it is not."""

    def fail(*_: object, **__: object) -> None:
        pytest.fail("a reasoner was asked for")

    store = CaseStore(Database(f"sqlite:///{tmp_path / 'records.db'}"), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC))
    monkeypatch.setattr("foible.services.reasoners.Reasoner", fail)
    monkeypatch.setattr("foible.web.cards.CardTable._draw_up", lambda *_: None)
    yield create_app(Cases(Reasoning(), store), Settings(hosts=("testserver",)))
    store.database.dispose()


def run(work: Any) -> Any:  # noqa: ANN401 — whatever it returns
    """Run a coroutine in a thread aside: the browser tests may have left a loop running in this one."""
    with ThreadPoolExecutor(1) as aside:
        return aside.submit(asyncio.run, work).result(60)


def device(app: FastAPI) -> httpx.AsyncClient:
    transport = httpx.ASGITransport(app, client=("127.0.0.1", 50_000))
    return httpx.AsyncClient(transport=transport, base_url="http://testserver")


@pytest.mark.parametrize("name", ENDPOINTS)
def test_every_endpoint_says_where_its_work_is_done(name: str) -> None:
    assert lane_of(ENDPOINTS[name]) in LANES, "mark it with `reasons`, `looks_up` or `on_loop` of foible.web.lanes"


def test_an_endpoint_that_says_nothing_is_noticed() -> None:
    assert lane_of(lambda: None) is None


def test_a_mark_that_an_endpoint_cannot_keep_is_refused() -> None:
    def blocks() -> None: ...

    async def runs() -> None: ...

    for mark, endpoint in ((on_loop, blocks), (looks_up, runs), (reasons, runs)):
        with pytest.raises(TypeError, match="functions that are"):
            mark(endpoint)


def test_what_is_cheap_and_the_keeping_of_an_answer_wait_for_no_reasoning(app: FastAPI) -> None:
    """All the while a request that reasons has its turn, and does not end."""

    async def asked() -> None:
        begun, go_on = threading.Event(), threading.Event()

        def reasoning() -> None:
            begun.set()
            go_on.wait(60)

        async with device(app) as client:
            long = asyncio.create_task(app.state.priority.reason(reasoning))
            await asyncio.to_thread(begun.wait, 60)
            try:
                for path in CHEAP:
                    assert (await client.get(path)).status_code == 200, path
                form = (await client.get("/new/foil")).text
                fields = {"csrf": re.findall(r'name="csrf" value="([^"]*)"', form)[0], "token": "abcd"}
                case = (await client.post("/new/foil", data={**fields, "say": SAYS, "side": "left"})).headers["location"]
                trial = (await client.get("/api/weapons/foil/trials")).json()[0]["say"]
                answered = await client.post(f"{case}/answer", data={**fields, "say": trial}, headers={"HX-Request": "true"})
                assert answered.status_code == 204
                assert (await client.post(f"{case}/back", data=fields)).status_code == 303
                assert not long.done()
            finally:
                go_on.set()
                await long

    run(asked())


@pytest.mark.parametrize("path", ["/what-if/foil", f"/api/weapons/foil/lamps?say={quote('at rest')}", "/cases/nosuch"])
def test_what_reasons_waits_for_its_turn(app: FastAPI, path: str) -> None:
    async def asked() -> list[str]:
        order, begun, go_on = [], threading.Event(), threading.Event()

        def reasoning() -> None:
            begun.set()
            go_on.wait(60)
            order.append("first")

        async def ask() -> None:
            async with device(app) as client:
                await client.get(path)
            order.append("second")

        first = asyncio.create_task(app.state.priority.reason(reasoning))
        await asyncio.to_thread(begun.wait, 60)
        second = asyncio.create_task(ask())
        async with device(app) as client:
            await client.get("/new/foil")  # takes a thread, so the second would have had the time
        go_on.set()
        await asyncio.gather(first, second)
        return order

    assert run(asked()) == ["first", "second"]


def test_a_static_file_is_the_same_from_the_disk_and_from_memory(app: FastAPI) -> None:
    """A validator that still holds is answered without the file (RFC 9110, 13.1.2 and 15.4.5)."""

    async def asked() -> None:
        async with device(app) as client:
            first, again = [await client.get("/static/foible.css?1") for _ in range(2)]
            assert first.content == again.content == (FOLDER / "static" / "foible.css").read_bytes()
            for header in ("content-type", "content-encoding", "etag", "last-modified", "cache-control", "vary"):
                assert again.headers[header] == first.headers[header], header
            known = {"If-None-Match": first.headers["etag"]}
            unchanged = await client.get("/static/foible.css", headers=known)
            assert (unchanged.status_code, unchanged.content) == (304, b"")
            assert (await client.get("/static/foible.css", headers={"If-None-Match": '"other"'})).content == first.content
            assert (await client.get("/static/nosuch.css")).status_code == 404
            assert (await client.get("/static/..%2fapplication.py")).status_code == 404
            assert (await client.post("/static/foible.css")).status_code == 405

    run(asked())
