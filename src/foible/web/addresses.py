"""What this machine is called on its network: addresses and names, found without sending anything anywhere."""

from __future__ import annotations

import ipaddress
import socket
import threading

__all__ = ["address", "addresses", "host_names"]

PATIENCE_S = 1.0
"""How long the system may take to say what it knows of its own name [s]; without a network it may wait for an answer."""


def address() -> str:
    """Return the address of this machine on its network; no packet is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect((str(ipaddress.IPv4Address(0x0A000001)), 9))
        except OSError:
            return "127.0.0.1"
        return str(probe.getsockname()[0])


def addresses() -> tuple[str, ...]:
    """Return all addresses of this machine that the system tells of, the one on its network first."""
    found: list[str] = []

    def look() -> None:
        try:
            found.extend(str(each[4][0]) for each in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET))
        except OSError:
            return

    looking = threading.Thread(target=look, daemon=True)
    looking.start()
    looking.join(PATIENCE_S)
    return tuple(dict.fromkeys((address(), *found)))


def host_names() -> tuple[str, ...]:
    """Return the names that other devices may know this machine by, in lower case; “.local” is for multicast DNS (RFC 6762)."""
    name = socket.gethostname().lower()
    return (name,) if "." in name else (name, f"{name}.local")
