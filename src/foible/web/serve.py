"""The server, as `foible serve` starts it: options in, a running server out."""

from __future__ import annotations

import gc
import ipaddress
import logging
import os
import socket
import sys
import threading
import webbrowser
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING
from urllib.parse import quote, unquote

import segno
import uvicorn
from sqlalchemy.engine import make_url

from foible.errors import InputError, KeepingError
from foible.records import file_of, put_away
from foible.services.daily import COPIES, DailyCopies, copies_folder
from foible.services.opening import data_url, open_cases
from foible.services.rulebook import Rulebook
from foible.web.addresses import address, addresses, host_names
from foible.web.application import create_app
from foible.web.certificates import given_certificate, own_certificate
from foible.web.connections import FewWords, Limits, Listener, more_handles
from foible.web.demo import fill
from foible.web.devices import Devices
from foible.web.encryption import protocol
from foible.web.key import kept_secret
from foible.web.own_files import beside
from foible.web.processes import share_out
from foible.web.request_log import keep_log
from foible.web.settings import Passphrase, Settings
from foible.web.stopping import heard, then

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path
    from types import FrameType

    from foible.services.cases import Cases
    from foible.services.reasoning import Reasoning
    from foible.web.certificates import Certificate

__all__ = ["ServeOptions", "data_url", "serve_until_stopped", "warm"]

PATIENCE_S = 2
"""How long open connections may take to end when the server stops [s]."""
KEEP_ALIVE_S = 300
"""How long a device's connection stays open between two trials, so that it returns to the process that knows its case [s]."""
GC_THRESHOLDS = (20_000, 20, 50)
"""Thresholds that make garbage collection rare: answers leave little behind, and a collection holds everybody up."""
SWITCH_S = 0.001
"""How soon the interpreter switches from reasoning to another thread [s]."""
BACKLOG = 100
"""Pending connections that are taken at a time."""
SHARES_PORTS = sys.platform == "linux"
"""Whether the system distributes connections among processes that listen on one port."""
MOST_WORKERS = 4
"""Processes where others may join; each takes some 900 MB of memory."""


def warm(reasoning: Reasoning) -> threading.Thread:
    """Start working out what every case needs, so that the first answer is quick; ends with the program."""

    def work() -> None:
        with suppress(KeepingError):  # rates of the register that cannot be read: whoever answers is told
            for weapon in reasoning.weapons():
                reasoning.warm(weapon.name)
        gc.collect()
        gc.freeze()  # what is in memory by now stays: scanning it for garbage would hold everybody up for a tenth of a second

    thread = threading.Thread(target=work, name="warming", daemon=True)
    thread.start()
    return thread


@dataclass(frozen=True)
class ServeOptions:
    """How Foible is to be served in the browser."""

    port: int
    data: str | None = None
    """A file or a database URL; None is a file in the user's own folder."""
    demo: bool = False
    share: bool = False
    passphrase: str | None = None
    """None: one is made up."""
    workers: int | None = None
    """Processes that answer; None is one for this machine alone, and one for each core where others may join."""
    photos: str | None = None
    """A folder for photos; None is one beside the cases."""
    kit: Sequence[Path] = ()
    rules: Sequence[Path] = ()
    """Files of own rules."""
    browse: bool = True
    copies: int = COPIES
    """Daily copies of the records that stay; with 0 none are made."""
    copies_in: Path | None = None
    """Their folder; None is one beside the records."""
    proxy: str | None = None
    """Address of the proxy that others come through."""
    names: Sequence[str] = ()
    """Names that the proxy, or this machine, is known by."""
    certificate: Path | None = None
    """A certificate of the user's own, in PEM."""
    key: Path | None = None
    """Its private key; None where it is in the same file."""
    tls: bool = False
    """Whether Foible is to make a certificate."""
    log: str | None = None
    """A file for a line of each request and change, or “-” for standard output."""

    @property
    def joinable(self) -> bool:
        """Whether others may join."""
        return self.share or self.proxy is not None

    @property
    def processes(self) -> int:
        """How many processes answer."""
        cores = min(os.cpu_count() or 1, MOST_WORKERS) if self.joinable else 1
        return (self.workers or cores) if hasattr(os, "fork") else 1


def serve_until_stopped(options: ServeOptions) -> None:
    """Serve Foible until it is stopped, in whatever way; the records are then one whole file."""
    url = data_url(options.data, demo=options.demo)
    Rulebook(options.rules).check()  # slips in a file are told now, not to whoever looks
    if options.log:
        keep_log(options.log)
    with then(partial(put_away, url)):
        _serve(options, url)


def _serve(options: ServeOptions, url: str) -> None:
    path = file_of(url)
    begun = path is not None and not path.exists()
    cases = open_cases(url, options.kit, photos=options.photos)
    if options.demo and not cases.store.database.read_only:
        fill(cases)
    secret = kept_secret(url)
    here = f"http://127.0.0.1:{options.port}/"
    host = "0.0.0.0" if options.share or _is_elsewhere(options.proxy) else "127.0.0.1"  # noqa: S104 — only where the user asks to
    dealt = SHARES_PORTS and options.processes > 1  # a socket each, so that devices are distributed among the processes
    listeners = [_listening(host, options.port)]
    if dealt:
        listeners.pop().close()  # nobody else listens there
        listeners = [_listening(host, options.port, shared=True) for _ in range(options.processes)]
    settings = replace(
        _settings(options, url, secret), rules=tuple(options.rules)
    )  # only now: another server on this port keeps its devices and its certificate
    _greet(here, settings, _told(url, begun=begun, read_only=cases.store.database.read_only))
    if options.browse and _has_screen():
        threading.Timer(0.8, webbrowser.open, [here]).start()
    if options.copies and not cases.store.database.read_only:
        daily = DailyCopies(url, options.copies_in or copies_folder(url), options.copies, options.photos)
    else:
        daily = None
    if options.processes == 1:
        _run(cases, settings, listeners[0], daily, copies=True)
    else:
        cases.store.database.dispose()  # each process opens the records for itself
        share_out(
            lambda number: _run(
                open_cases(url, options.kit, photos=options.photos),
                settings,
                listeners[number % len(listeners)],
                daily,
                copies=not number,
            ),
            options.processes,
        )
    for listener in listeners:
        listener.close()


def _has_screen() -> bool:
    """Return whether a browser would open in a window, not in this very terminal."""
    return sys.platform in ("darwin", "win32") or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _run(cases: Cases, settings: Settings, listener: socket.socket, daily: DailyCopies | None, *, copies: bool) -> None:
    """Serve in this process until it is told to stop; one of them makes the daily `copies`."""
    app = create_app(cases, settings)
    app.state.daily = daily
    _set_interpreter()
    warm(cases.reasoning)
    if daily and copies:
        daily.start()
    config = uvicorn.Config(
        app,
        http=protocol(
            Limits(more_handles(), exempt=settings.proxy), settings.certificate.context if settings.certificate else None
        ),
        proxy_headers=False,  # `Defences` reads them, and of one proxy alone
        log_level="warning",
        backlog=BACKLOG,
        timeout_graceful_shutdown=PATIENCE_S,
        timeout_keep_alive=KEEP_ALIVE_S,
        server_header=False,
    )
    for name in ("uvicorn.error", "asyncio"):
        logging.getLogger(name).addFilter(FewWords())
    server = uvicorn.Server(config)
    stop = server.handle_exit

    def handle_exit(sig: int, frame: FrameType | None) -> None:
        app.state.hub.close()  # open connections would hold the server up
        stop(sig, frame)

    server.handle_exit = handle_exit  # type: ignore[method-assign]
    heard(handle_exit)  # uvicorn itself does not listen for a terminal that is closed
    try:
        server.run(sockets=[listener])
    finally:
        cases.store.database.dispose()


def _set_interpreter() -> None:
    """Keep waits short. It affects the whole process, so only our own server does this, not `create_app`."""
    gc.set_threshold(*GC_THRESHOLDS)
    sys.setswitchinterval(SWITCH_S)


def _listening(host: str, port: int, *, shared: bool = False) -> socket.socket:
    """Return a socket to listen on, one of several on this port where `shared`. Raises InputError."""
    listener = Listener(proto=socket.IPPROTO_TCP)  # named, or asyncio leaves small packets waiting for one another
    for option in (socket.SO_REUSEADDR, *((socket.SO_REUSEPORT,) if shared else ())):
        listener.setsockopt(socket.SOL_SOCKET, option, 1)
    try:
        listener.bind((host, port))
        listener.listen(BACKLOG)
    except OSError as error:
        listener.close()
        seen = f"port {port} cannot be used ({error.strerror})"
        raise InputError(seen=seen, remedy="give another one with --port, or stop what uses it") from error
    return listener


def _settings(options: ServeOptions, url: str, secret: str) -> Settings:
    """Return the settings of a server. Raises InputError."""
    certificate = _certificate(options, url)
    if not options.joinable:
        return Settings(secret=secret, certificate=certificate)
    words = (options.passphrase or "").strip()
    if words:
        Passphrase.check(words)
    else:
        words = Passphrase.made()
    if options.proxy and not options.names:
        seen = "nothing is said of the name that devices know the proxy by"
        raise InputError(seen=seen, remedy="give it with --name, as it stands in their address bar")
    given = [name.lower() for name in (*options.names, *(certificate.names if certificate and not certificate.own else ()))]
    known_as = given[0] if given else address()
    place = f"https://{known_as}" if options.proxy else f"http{'s' * bool(certificate)}://{known_as}:{options.port}"
    settings = Settings(
        hosts=tuple(dict.fromkeys((*Settings().hosts, *addresses(), *host_names(), *given))),
        passphrase=Passphrase.of(words, salt=bytes.fromhex(secret)),
        join=f"{place}/join#{quote(words)}",
        secret=secret,
        proxy=options.proxy,
        certificate=certificate,
    )
    return replace(settings, devices=Devices.opened(beside(url, ".devices"), settings.ticket))


def _certificate(options: ServeOptions, url: str) -> Certificate | None:
    """Return what is to be served with; None is plain HTTP. Raises InputError."""
    if options.certificate and options.tls:
        seen = "both a certificate and --tls are given"
        raise InputError(seen=seen, remedy="leave --tls out to use your own, or --certificate to have one made")
    if options.key and not options.certificate:
        raise InputError(seen="a key is given, but no certificate", remedy="give its certificate with --certificate")
    if options.certificate:
        return given_certificate(options.certificate, options.key)
    if options.tls:
        here = ("127.0.0.1", "::1", *addresses())
        return own_certificate(url, ("localhost", *host_names(), *(name.lower() for name in options.names)), here)
    return None


def _is_elsewhere(proxy: str | None) -> bool:
    """Return whether a proxy is on another machine. Raises InputError where this is no address."""
    try:
        return proxy is not None and not ipaddress.ip_address(proxy).is_loopback
    except ValueError as error:
        remedy = "give the address that the proxy's requests come from, such as 127.0.0.1"
        raise InputError(seen=f"“{proxy}” is not an IP address", remedy=remedy) from error


def _told(url: str, *, begun: bool, read_only: bool) -> str:
    """Return where the cases are, and whether that is as usual."""
    place = make_url(url).render_as_string().removeprefix("sqlite:///")  # a password is not shown
    if read_only:
        return f"Cases are looked at in {place}: nothing can be written there, so no answers are taken in."
    return f"Cases are kept in {place}{', begun today' if begun else ''}"


def _greet(here: str, settings: Settings, place: str) -> None:
    lines = [f"Foible is open at {here}", place]
    if settings.shared:
        place_to_join, _, words = settings.join.partition("#")
        lines += [f"Other devices: {place_to_join}", f"Passphrase:    {unquote(words)}"]
    if settings.certificate:
        half = len(settings.certificate.fingerprint) // 2
        lines += [f"Certificate:   {settings.certificate.fingerprint[: half + 1]}"]
        lines += [f"               {settings.certificate.fingerprint[half + 1 :]}"]
        if settings.certificate.own:
            lines += ["Browsers warn of it once: go on only where they show this SHA-256 fingerprint."]
    sys.stdout.write("\n".join(lines) + "\n")
    if settings.shared:
        segno.make(settings.join, error="m").terminal(compact=True)
    sys.stdout.write("Stop it with Ctrl-C.\n")
    sys.stdout.flush()
