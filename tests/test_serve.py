"""How Foible is served: several processes, one database, a key that outlasts them, a passphrase that counts."""

from __future__ import annotations

import asyncio
import gc
import os
import signal
import socket
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from foible.errors import InputError, KeepingError
from foible.records import CaseStore, Database, EntryKind, NewCase, NewEntry
from foible.services.reasoning import Reasoning
from foible.web.hub import Hub
from foible.web.key import kept_secret
from foible.web.priority import AnswerPriority
from foible.web.serve import SHARES_PORTS, _listening, warm
from foible.web.settings import Passphrase, Settings

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

WORK = """
import os, signal, sys
from foible.web.processes import share_out
def work(_):
    os.write(int(sys.argv[1]), f"{os.getpid()}\\n".encode())
    while True:
        signal.pause()
share_out(work, 2)
"""
"""Two processes that say their number down a pipe and wait for ever."""
STOPPED_AT_A_START = WORK.replace(
    "def work",
    """fork, forks = os.fork, []
def stopped():
    child = fork()
    forks.append(child)
    if child and len(forks) == 3:
        signal.raise_signal(signal.SIGTERM)
    return child
os.fork = stopped
def work""",
)
"""The same, told to stop just when the third process has begun."""


NET_S = 240
"""Beyond what anything takes, only so that what never comes is said to be missing [s]."""

AT_NUMPY = """
import os, sys
class Watch:
    def find_spec(self, name, path=None, target=None):
        if name == "numpy":
            print(os.environ.get("OPENBLAS_NUM_THREADS"))
            sys.exit()
sys.meta_path.insert(0, Watch())
sys.argv = ["foible", "kit"]
from foible.cli.main import run
run()
"""
"""A command that needs numpy, stopped where numpy is about to be loaded."""


@pytest.fixture
def started() -> Iterator[Callable[..., subprocess.Popen[bytes]]]:
    """Start Python programs, each in a process group of its own; what is left of a group after the test is killed."""
    groups: list[subprocess.Popen[bytes]] = []

    def start(program: str, *arguments: str, pass_fds: tuple[int, ...] = ()) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-c", program, *arguments]
        groups.append(subprocess.Popen(command, pass_fds=pass_fds, start_new_session=True))  # noqa: S603 — our own words
        return groups[-1]

    yield start
    for group in groups:
        with suppress(ProcessLookupError):
            os.killpg(group.pid, signal.SIGKILL)
        group.wait()


def test_matrices_stay_within_one_thread_unless_somebody_asks_for_more() -> None:
    """OpenBLAS reads the variable when it is loaded (its README, “Setting the number of threads using environment variables”)."""
    bare = {key: value for key, value in os.environ.items() if key != "OPENBLAS_NUM_THREADS"}
    for environment, told in ((bare, "1\n"), (bare | {"OPENBLAS_NUM_THREADS": "3"}, "3\n")):
        command = [sys.executable, "-c", AT_NUMPY]
        assert subprocess.run(command, env=environment, capture_output=True, check=True, text=True).stdout == told  # noqa: S603 — our own words


@pytest.mark.skipif(not hasattr(os, "fork"), reason="one process serves where there is no fork")
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_processes_that_die_are_started_again_and_all_end_with_their_parent(
    started: Callable[..., subprocess.Popen[bytes]], how: signal.Signals
) -> None:
    """Parent and children hold one end of a pipe: it reads as ended when the last of them has gone."""
    ours, theirs = os.pipe()
    with os.fdopen(ours) as said:
        parent = started(WORK, str(theirs), pass_fds=(theirs,))
        os.close(theirs)
        first, second = int(said.readline()), int(said.readline())
        os.kill(first, signal.SIGKILL)
        third = int(said.readline())
        assert len({parent.pid, first, second, third}) == 4
        parent.send_signal(how)
        parent.wait()
        assert not said.read()  # nobody is left, and nobody was started any more


@pytest.mark.skipif(not hasattr(os, "fork"), reason="one process serves where there is no fork")
def test_a_process_that_begins_while_all_are_told_to_stop_ends_too(started: Callable[..., subprocess.Popen[bytes]]) -> None:
    ours, theirs = os.pipe()
    with os.fdopen(ours) as said:
        parent = started(STOPPED_AT_A_START, str(theirs), pass_fds=(theirs,))
        os.close(theirs)
        first, _ = int(said.readline()), int(said.readline())
        os.kill(first, signal.SIGKILL)
        assert parent.wait(NET_S) == 0
        said.read()  # returns only when nobody is left


def test_what_another_process_has_kept_is_told(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'r.db'}"
    ours, theirs = (CaseStore(Database(url), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC)) for _ in range(2))
    case = ours.open(NewCase("foil", "White"))

    async def told() -> list[str]:
        hub = Hub()
        watching = asyncio.create_task(hub.watch(ours.versions, AnswerPriority()))
        line = hub.changes(case.id, case.version)
        first = await anext(line)
        theirs.add(case.id, NewEntry(EntryKind.SKIP, "a", say="press the left point"))
        second = await asyncio.wait_for(anext(line), NET_S)
        hub.close()
        watching.cancel()
        return [first, second]

    with ThreadPoolExecutor(1) as aside:  # the browser tests may have left a loop running in this thread
        assert aside.submit(asyncio.run, told()).result() == ["data: 1\n\n", "data: 2\n\n"]


def test_answers_are_taken_in_before_anything_is_reasoned_about() -> None:
    order = []

    async def asked() -> None:
        turns, begun, go_on = AnswerPriority(), threading.Event(), threading.Event()

        def taken_in() -> None:
            begun.set()
            go_on.wait()
            order.append("answer")

        answer = asyncio.create_task(turns.take(taken_in))
        try:
            assert await asyncio.to_thread(begun.wait, NET_S)
            board = asyncio.create_task(turns.reason(lambda: order.append("board")))
            await asyncio.sleep(0)
        finally:
            go_on.set()
        await asyncio.gather(answer, board)

    with ThreadPoolExecutor(1) as aside:  # as above
        aside.submit(asyncio.run, asked()).result()
    assert order == ["answer", "board"]


@pytest.mark.skipif(not SHARES_PORTS, reason="processes listen at one socket here")
def test_processes_of_ours_share_a_port_and_nobody_else_does() -> None:
    with _listening("127.0.0.1", 0, shared=True) as first:
        port = first.getsockname()[1]
        with _listening("127.0.0.1", port, shared=True) as second:
            assert second.getsockname() == first.getsockname()
            with pytest.raises(InputError, match=f"port {port} cannot be used"):
                _listening("127.0.0.1", port)


def test_what_is_sent_in_pieces_is_not_held_back() -> None:
    """Nagle's algorithm (RFC 896) and delayed acknowledgement (RFC 1122, 4.2.3.2) together cost up to 200 ms an answer.

    asyncio turns the first off (TCP_NODELAY) where the socket names its protocol.
    """
    nodelay = []

    async def met() -> None:
        def meet(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            nodelay.append(writer.get_extra_info("socket").getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            writer.close()

        with _listening("127.0.0.1", 0) as listener:
            server = await asyncio.start_server(meet, sock=listener)
            reader, writer = await asyncio.open_connection(*listener.getsockname())
            await reader.read()
            writer.close()
            server.close()
            await server.wait_closed()

    with ThreadPoolExecutor(1) as aside:  # as above
        aside.submit(asyncio.run, met()).result()
    assert nodelay == [1]


def test_the_key_of_the_cookies_outlasts_a_restart_and_is_its_owners_alone(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'register.db'}"
    key = kept_secret(url)
    assert kept_secret(url) == key
    assert (tmp_path / "register.db.key").stat().st_mode & 0o077 == 0
    assert kept_secret(f"sqlite:///{tmp_path / 'other.db'}") != key


@pytest.mark.parametrize("left", [b"", b"0123", b"\xff\x00", b"\n", b"g" * 64], ids=repr)
def test_a_key_that_is_not_whole_opens_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str], left: bytes) -> None:
    """As a crash between making and writing it leaves it: an empty key would let anyone sign a cookie."""
    path = tmp_path / "register.db.key"
    path.write_bytes(left)
    key = kept_secret(f"sqlite:///{tmp_path / 'register.db'}")
    assert len(bytes.fromhex(key)) == 32
    assert "is not whole" in capsys.readouterr().err
    assert kept_secret(f"sqlite:///{tmp_path / 'register.db'}") == key
    assert path.stat().st_mode & 0o077 == 0
    assert [each.name for each in tmp_path.iterdir()] == [path.name]


def test_a_key_that_cannot_be_kept_lasts_until_the_end(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    key = kept_secret(f"sqlite:///{tmp_path / 'nowhere' / 'register.db'}")
    assert len(bytes.fromhex(key)) == 32
    assert "cannot be kept" in capsys.readouterr().err


def test_a_device_stays_joined_while_the_passphrase_is_the_same() -> None:
    def settings(words: str) -> Settings:
        return Settings(passphrase=Passphrase.of(words, salt=b"salt"), secret="one key")

    assert settings("crate lantern oar").ticket == settings(" Crate  lantern oar").ticket
    assert settings("crate lantern oar").ticket != settings("crate-lantern-oar").ticket


def test_records_that_cannot_be_read_stop_nothing_that_is_worked_out_beforehand(monkeypatch: pytest.MonkeyPatch) -> None:
    """The register's rates are read for it; where they cannot be, whoever answers is told, and no thread dies of it."""
    died: list[threading.ExceptHookArgs] = []
    monkeypatch.setattr(threading, "excepthook", died.append)
    asked: list[str] = []

    def unread(weapon: str) -> None:
        asked.append(weapon)
        raise KeepingError(what="the records", reason="no such table: choices", done="read", remedy="try again")

    reasoning = Reasoning()
    monkeypatch.setattr(reasoning, "warm", unread)
    thread = warm(reasoning)
    thread.join(30)
    gc.unfreeze()
    assert asked
    assert not thread.is_alive()
    assert not died
