"""Connections behind TLS, counted from their first packet on; plain HTTP only where nobody can listen in."""

from __future__ import annotations

import asyncio
from ipaddress import ip_address
from typing import TYPE_CHECKING, ClassVar, cast

from foible.web.connections import Limited

if TYPE_CHECKING:
    import ssl

    from foible.web.connections import Limits

__all__ = ["Encrypted", "protocol"]

HANDSHAKE = b"\x16"
"""What TLS begins with: the content type of a handshake (RFC 8446, 5.1)."""
ENDING_S = 1.0
"""How long the other side may take to say that it closes too [s]."""
SENT_ON = """HTTP/1.1 307 Temporary Redirect\r
Location: {address}\r
Content-Type: text/plain; charset=utf-8\r
Content-Length: {length}\r
Connection: close\r
\r
{text}"""


class Encrypted(Limited):
    """The protocol of a server with a certificate.

    Connections count before their handshake, whose time is limited too: they use a handle from the start. What begins in
    plain HTTP is served on this machine itself, since it does not leave it; other devices are sent on to the encrypted address.
    """

    tls: ClassVar[ssl.SSLContext]
    _raw: asyncio.Transport
    _handshake: asyncio.Task[None] | None = None
    _early = b""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Count a connection, and wait for what it begins with."""
        if self._enter(transport):
            self._raw = transport
            self._deadline = self.loop.call_later(self.header_s, transport.abort)

    def data_received(self, data: bytes) -> None:
        """Find out from the first byte how the other side speaks; then pass on what came."""
        if self._begun:
            super().data_received(data)
        elif self._handshake is not None:
            self._early += data
        elif data[:1] == HANDSHAKE:
            self._clear()
            self._raw.pause_reading()
            self._handshake = self.loop.create_task(self._encrypt(data))
        elif self._is_here():
            self._clear()
            self._begin(self._raw)
            super().data_received(data)
        else:
            self._send_on()

    async def _encrypt(self, first: bytes) -> None:
        """Go through the handshake, and speak HTTP over TLS from then on."""
        upgrade = self.loop.start_tls(
            self._raw, self, self.tls, server_side=True, ssl_handshake_timeout=self.header_s, ssl_shutdown_timeout=ENDING_S
        )
        starting = asyncio.ensure_future(upgrade)
        await asyncio.sleep(0)  # its protocol is in place now, and connected before what is called soon
        self.loop.call_soon(self._pass_on, first)
        try:
            encrypted = await starting
        except OSError:  # no handshake, one that failed, or one that took too long
            encrypted = None
        if encrypted is None:
            self._leave()
            return
        self._begin(encrypted)
        if self._early:  # it came with the last words of the handshake
            super().data_received(self._early)

    def _pass_on(self, first: bytes) -> None:
        """Let TLS have what was read before it began."""
        handshaking = self._raw.get_protocol()
        if isinstance(handshaking, asyncio.BufferedProtocol) and not self._raw.is_closing():
            handshaking.get_buffer(len(first))[: len(first)] = first  # type: ignore[index]
            handshaking.buffer_updated(len(first))

    def _is_here(self) -> bool:
        return ip_address(str(self._counted)).is_loopback

    def _send_on(self) -> None:
        host, port = cast("tuple[str, int]", self._raw.get_extra_info("sockname")[:2])
        address = f"https://{f'[{host}]' if ':' in host else host}:{port}/"
        text = f"Foible is encrypted here: open {address}\n"
        self._raw.write(SENT_ON.format(address=address, length=len(text.encode()), text=text).encode())
        self._raw.close()


def protocol(limits: Limits, tls: ssl.SSLContext | None = None) -> type[Limited]:
    """Return the protocol of a process with these limits, encrypted where there is something to encrypt with."""
    return (
        type("EncryptedHere", (Encrypted,), {"limits": limits, "tls": tls})
        if tls
        else type("LimitedHere", (Limited,), {"limits": limits})
    )
