"""What a benchmark asks a server with: connections that stay open, a device with its session, requests at fixed moments."""

from __future__ import annotations

import asyncio
import re
import secrets
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from urllib.parse import urlencode, urlsplit

import httpx
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

__all__ = ["WEAPONS", "Line", "Phone", "Stream", "milliseconds", "p95"]

Fields = dict[str, str] | list[tuple[str, str]]
"""A form: by name, or as pairs where a name stands several times."""
WEAPONS = {"foil": "foil", "epee": "épée", "sabre": "sabre"}
"""Weapon by the word in addresses."""
MOST_WAITING = 100
"""Requests of one stream that may wait at once; further ones are left out, as a system would refuse them."""


class Line:
    """One connection to the server that stays open, as a browser keeps it (HTTP/1.1, RFC 9112).

    It does no more than needed here: client and server share the cores, and what a client costs would be counted as the server's.
    """

    def __init__(self, address: str, cookie: str) -> None:
        self._address = urlsplit(address)
        self._head = f"Host: {self._address.netloc}\r\nCookie: {cookie}\r\nAccept-Encoding: gzip\r\nHX-Request: true\r\n"

    async def open(self) -> None:
        """Open it."""
        self._reader, self._writer = await asyncio.open_connection(self._address.hostname, self._address.port)

    async def ask(self, path: str, fields: Fields | None = None) -> bytes:
        """Return what a page is, still compressed; `fields` are sent as a form. Raises HTTPError where the server refuses.

        A connection that the server closed while it rested is opened anew, as a browser does; a form counts once by its token.
        """
        try:
            return await self._ask(path, fields)
        except (asyncio.IncompleteReadError, ConnectionError) as error:
            if isinstance(error, asyncio.IncompleteReadError) and error.partial:
                raise
        self.close()
        await self.open()
        return await self._ask(path, fields)

    async def _ask(self, path: str, fields: Fields | None) -> bytes:
        body = urlencode(fields) if fields else ""
        form = f"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {len(body)}\r\n" if fields else ""
        self._writer.write(f"{'POST' if fields else 'GET'} {path} HTTP/1.1\r\n{self._head}{form}\r\n{body}".encode())
        head = await self._reader.readuntil(b"\r\n\r\n")
        length = re.search(rb"(?i)\r\ncontent-length: (\d+)", head)
        told = await self._reader.readexactly(int(length[1])) if length else b""
        if re.search(rb"(?i)\r\ntransfer-encoding: chunked", head):
            told = await self._chunks()
        if head[9:10] != b"2":
            msg = f"{path}: {head.decode().splitlines()[0]}"
            raise httpx.HTTPError(msg)
        return told

    async def _chunks(self) -> bytes:
        told = b""
        while size := int(await self._reader.readline(), 16):
            told += await self._reader.readexactly(size)
            await self._reader.readline()
        await self._reader.readline()
        return told

    def close(self) -> None:
        """Close it."""
        self._writer.close()


@dataclass(frozen=True)
class Phone:
    """A device that has met the server: its cookie, and the token that its forms carry."""

    base: str
    cookie: str
    csrf: str

    @classmethod
    async def met(cls, base: str) -> Phone:
        """Return a device that has loaded its first page."""
        async with httpx.AsyncClient(base_url=base, timeout=60) as client:
            form = (await client.get(f"/new/{next(iter(WEAPONS))}")).raise_for_status().text
            cookie = "; ".join(f"{cookie.name}={cookie.value}" for cookie in client.cookies.jar)
        return cls(base, cookie, re.findall(r'name="csrf" value="([^"]*)"', form)[0])

    async def send(self, path: str, **fields: str) -> str:
        """Send a form, and return the address that the server sends the device on to; nothing is reasoned about for that."""
        async with httpx.AsyncClient(base_url=self.base, headers={"Cookie": self.cookie}, timeout=60) as client:
            answer = await client.post(path, data={"csrf": self.csrf, "token": secrets.token_hex(8), **fields})
        if not answer.is_redirect:
            msg = f"{path}: {answer.status_code}"
            raise httpx.HTTPError(msg)
        return answer.headers["location"]

    async def line(self) -> Line:
        """Return a connection of this device."""
        line = Line(self.base, self.cookie)
        await line.open()
        return line


@dataclass
class Stream:
    """Requests for one address at fixed moments, whether earlier ones are answered or not, so that no wait is overlooked."""

    phone: Phone
    path: str
    every_s: float
    most: int = MOST_WAITING
    times: list[float] = field(default_factory=list)
    """How long each took [s]."""
    body: bytes = b""
    """What came last."""

    async def run(self, going: Callable[[], bool]) -> Stream:
        """Ask as long as `going` says so, and wait for the last answer."""
        free: list[Line] = []
        waiting: set[asyncio.Task[None]] = set()
        start, number = time.perf_counter(), 0
        while going():
            if len(waiting) < self.most:
                task = asyncio.create_task(self._ask(free))
                waiting.add(task)
                task.add_done_callback(waiting.discard)
            number += 1
            await asyncio.sleep(max(start + number * self.every_s - time.perf_counter(), 0.0))
        await asyncio.gather(*waiting)
        for line in free:
            line.close()
        return self

    async def _ask(self, free: list[Line]) -> None:
        line = free.pop() if free else await self.phone.line()
        start = time.perf_counter()
        self.body = await line.ask(self.path)
        self.times.append(time.perf_counter() - start)
        free.append(line)


def p95(times: Sequence[float]) -> float:
    """Return the time that 95 % of `times` do not exceed [ms]."""
    return 1e3 * float(np.quantile(times, 0.95))


def milliseconds(times: Sequence[float]) -> str:
    """Return the median, the 95th percentile and the longest of some times in columns [ms]."""
    return "".join(f"{1e3 * float(np.quantile(times, q)):>10.1f}" for q in (0.5, 0.95, 1.0))
