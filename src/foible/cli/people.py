"""The `people` command: who works here and who owns kit. Whoever is at this terminal has the records, so nobody signs in."""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime
from getpass import getpass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from foible.cli.options import AsJson, Data
from foible.cli.terminal import print_json, say, write_whole
from foible.errors import InputError

if TYPE_CHECKING:
    from foible.records.people import Person
    from foible.services.register.people import People

__all__ = ["add", "change", "erase", "export", "list_people", "unlock"]

Number = Annotated[int, typer.Argument(metavar="NUMBER", help="The person's number, as `foible people list` shows it.", min=1)]
Login = Annotated[str | None, typer.Option("--login", help="What they sign in by; empty takes it away.")]
RoleName = Annotated[str | None, typer.Option("--role", help="What they may do: look, work or manage.")]
Club = Annotated[str | None, typer.Option("--club", help="Their club.")]
Contact = Annotated[str | None, typer.Option("--contact", help="How to reach them.")]
LISTED = 200


def list_people(
    words: Annotated[
        list[str] | None, typer.Argument(metavar="WORDS", help="Only those in whose name or club all occur.")
    ] = None,
    *,
    as_json: AsJson = False,
    data: Data = None,
) -> None:
    """List people and clubs."""
    found = _people(data).found(" ".join(words or ()), limit=LISTED)
    if as_json:
        print_json({"people": [_as_json(person) for person in found]})
        return
    for person in found:
        say(_line(person))
    if not found:
        say("Nobody is registered there.")


def add(
    name: Annotated[str, typer.Argument(metavar="NAME", help="What the person or club is called.")],
    *,
    is_club: Annotated[bool, typer.Option("--is-club", help="It is a club, not a person.")] = False,
    club: Club = None,
    contact: Contact = None,
    login: Login = None,
    role: RoleName = None,
    data: Data = None,
) -> None:
    """Add a person or a club; with --login the PIN or passphrase is asked for, or read from standard input."""
    from foible.records.people import NewPerson
    from foible.records.trail import NOBODY
    from foible.services.register.people import role_named

    people = _people(data)
    kind = "club" if is_club else "person"
    new = NewPerson(name, kind, club or "", contact or "", login, role_named(role))
    say(f"Added: {_line(people.add(new, _secret() if login else '', by=NOBODY))}")


def change(
    number: Number,
    *,
    name: Annotated[str | None, typer.Option("--name", help="What they are called.")] = None,
    club: Club = None,
    contact: Contact = None,
    login: Login = None,
    role: RoleName = None,
    secret: Annotated[bool, typer.Option("--secret", help="Ask for another PIN or passphrase.")] = False,
    data: Data = None,
) -> None:
    """Change what is kept of somebody; what is left out stays."""
    from foible.records.trail import NOBODY
    from foible.services.register.people import role_named

    people = _people(data)
    told: dict[str, Any] = {"name": name, "club": club, "contact": contact, "login": login, "role": role_named(role)}
    wanted = {key: value for key, value in told.items() if value is not None}
    say(f"Changed: {_line(people.revise(number, wanted, _secret() if secret else '', version=None, by=NOBODY))}")


def unlock(number: Number, *, data: Data = None) -> None:
    """Open a login that ten wrong tries have locked."""
    from foible.records.trail import NOBODY

    say(f"Open: {_line(_people(data).unlock(number, by=NOBODY))}")


def erase(
    number: Number,
    *,
    sure: Annotated[bool, typer.Option("--for-good", help="Say that this is meant: it cannot be taken back.")] = False,
    data: Data = None,
) -> None:
    """Erase who somebody is: name, club, contact and login; their items and jobs stay, without a name."""
    from foible.records.trail import NOBODY

    if not sure:
        raise InputError(seen=f"person {number} would be erased for good", remedy="add --for-good if that is meant")
    for each in _people(data).erase(number, by=NOBODY):
        say(f"The name still stands in {each.kind} {each.ref} ({each.field}): take it out there if it is theirs.")
    say(f"Person {number} is erased. Copies made before still have the name.")


def export(
    number: Number,
    file: Annotated[Path | None, typer.Argument(metavar="FILE", help="The file to write; by default the terminal.")] = None,
    *,
    data: Data = None,
) -> None:
    """Write everything that refers to a person, as JSON (docs/json.md)."""
    kept = _people(data).export(number)
    if file is None:
        print_json(kept)
        return
    if file.exists():
        raise InputError(seen=f"the file {file} already exists", remedy="give another name")
    write_whole(file, json.dumps(kept, ensure_ascii=False, indent=2).encode())
    say(f"Everything kept of person {number} is in {file}.")


def _people(data: str | None) -> People:
    from foible.records import Database
    from foible.records.register import RegisterStore
    from foible.services.opening import data_url
    from foible.services.register.people import People

    return People(RegisterStore(Database(data_url(data)), clock=lambda: datetime.now(UTC)))


def _secret() -> str:
    """Return a PIN or passphrase: asked for twice, unseen, or the first line of what is piped in. Raises InputError."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    first = getpass("PIN or passphrase: ")
    if getpass("Once more: ") != first:
        raise InputError(seen="the two are not the same", remedy="try again")
    return first


def _line(person: Person) -> str:
    signs = f"signs in as {person.login} to {person.role.value}" if person.login and person.role else ""
    parts = (person.club, person.kind if person.kind == "club" else "", signs, "locked" if person.locked else "")
    return ", ".join(filter(None, (f"{person.id:4}  {person.name}", *parts)))


def _as_json(person: Person) -> dict[str, Any]:
    told = {key: getattr(person, key) for key in ("id", "kind", "name", "club", "contact", "login", "role")}
    return told | {"locked": person.locked is not None}
