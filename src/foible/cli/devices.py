"""The command `devices`: who has joined in the browser, and who goes."""

from __future__ import annotations

from typing import Annotated

import typer

from foible.cli.options import Data
from foible.cli.terminal import say
from foible.errors import UnknownNameError

__all__ = ["devices"]


def devices(
    *,
    send_away: Annotated[
        list[str] | None,
        typer.Option("--send-away", metavar="DEVICE", help="End a device's session, by name or by the beginning of its ID."),
    ] = None,
    data: Data = None,
) -> None:
    """List the devices that have joined Foible in the browser; one that is sent away is out at once."""
    from foible.services.opening import data_url
    from foible.web.devices import Devices
    from foible.web.own_files import beside

    known = Devices(beside(data_url(data), ".devices"))
    for word in send_away or ():
        found = known.all()
        chosen = [each for each in found if word == each.name or (word and each.id.startswith(word))]
        if not chosen:
            raise UnknownNameError(what="device", name=word, known=[each.name for each in found], all_named=True)
        for each in chosen:
            known.send_away(each.id)
            say(f"{each.name} was sent away. It can join again with the passphrase, until Foible is started with another.")
    for each in known.all():
        seen = each.seen.astimezone().strftime("%Y-%m-%d %H:%M")
        say(f"{each.id[:6]}  {each.name}, joined {each.joined.astimezone():%Y-%m-%d}, last seen {seen}")
    if not known.all():
        say("No device has joined.")
