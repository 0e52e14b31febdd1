"""Requests made up from the API's own description, with the names of real cases in their addresses.

A made-up name is unknown, and the request ends there; a real one lets everything else that was made up come as far as it can.
After each operation every case must still be there and be read.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from schemathesis.core.failures import FailureGroup
from schemathesis.core.result import Ok
from schemathesis.generation.modes import GenerationMode
from schemathesis.specs.openapi.checks import allow_header_conformance, negative_data_rejection, positive_data_acceptance

from benchmarks.faults.row import Row
from foible.errors import FoibleError
from foible.records import CaseStore, Database, EntryKind, NewCase, NewEntry
from foible.services.cases import Cases
from foible.services.photos import Album
from foible.services.reasoning import Reasoning
from foible.web import Settings, create_app

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Receive, Scope, Send

__all__ = ["run"]

EXAMPLES, SHORT = 60, 1
"""Sound and unsound requests to each operation, as many of each."""
SEED = 2026
CASES = 3
TEST = "tests/test_api.py::test_every_answer_is_one_that_the_description_names"
DESCRIPTION = "/api/openapi.json"
NOT_CHECKED = [
    positive_data_acceptance,  # a name of the right shape is refused where the kit has no such thing
    negative_data_rejection,  # with a real case's name in the place of a made-up one, a request may be sound after all
    allow_header_conformance,  # the framework names the methods of one route where several share an address
]


@schemathesis.serializer("application/toml")
def _sent(_: object, value: object) -> bytes:
    """Return the body of a request that sends a case file itself."""
    return str(value).encode(errors="replace")


class Here:
    """An application, asked from this very machine."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        await self._app({**scope, "client": ("127.0.0.1", 50_000)} if scope["type"] == "http" else scope, receive, send)


@dataclass
class Tally:
    """What came of the requests."""

    answered: dict[int, int] = field(default_factory=dict)
    """How often by hundreds of the status."""
    named: int = 0
    """Requests with a real case's name."""
    wrong: list[str] = field(default_factory=list)


def run(*, short: bool = False) -> list[Row]:
    """Send the requests, and return what was answered otherwise than the description says."""
    tally = Tally()
    with TemporaryDirectory() as folder:
        store = CaseStore(Database(f"sqlite:///{folder}/records.db"), clock=lambda: datetime.now(UTC))
        cases = Cases(Reasoning(), store, Album(Path(folder) / "photos"))
        app = Here(create_app(cases, Settings(hosts=("testserver",))))
        names = [store.open(NewCase("foil", f"White {number}")).id for number in range(CASES)]
        for name in names:
            store.add(name, NewEntry(EntryKind.SKIP, "first", say="press the left point"))
        schema = schemathesis.openapi.from_asgi(DESCRIPTION, app)
        for operation in (found.ok() for found in schema.get_all_operations() if isinstance(found, Ok)):
            _try(operation, names, tally, SHORT if short else EXAMPLES)
            tally.wrong += _not_there(store, names)
        store.database.dispose()
    by = ", ".join(f"{count:,} with {hundred}xx" for hundred, count in sorted(tally.answered.items()))
    tried = f"{sum(tally.answered.values()):,} requests (seed {SEED}), {tally.named:,} of them to real cases: answered {by}"
    promise = "a request of any content is answered as the API's description says, and the cases stay whole"
    return [Row(promise, TEST, tried, len(tally.wrong), tuple(tally.wrong))]


def _try(operation: Any, names: list[str], tally: Tally, count: int) -> None:  # noqa: ANN401 — an operation of schemathesis
    """Send an operation so many requests."""

    def send(case: schemathesis.Case[Any]) -> None:
        if "name" in (case.path_parameters or {}):
            case.path_parameters["name"] = names[sum(tally.answered.values()) % len(names)]
            tally.named += 1
        response = case.call()
        hundred = response.status_code // 100
        tally.answered[hundred] = tally.answered.get(hundred, 0) + 1
        if hundred == 5:  # noqa: PLR2004 — HTTP: a fault of the server's
            tally.wrong.append(f"{case.method} {case.formatted_path}: {response.status_code}")
            return
        try:
            case.validate_response(response, excluded_checks=NOT_CHECKED)
        except FailureGroup as group:
            tally.wrong += [f"{case.method} {case.formatted_path}: {each}" for each in group.exceptions]

    modest = settings(
        max_examples=count,
        deadline=None,
        database=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )
    for mode in GenerationMode:
        seed(SEED)(modest(given(case=operation.as_strategy(generation_mode=mode))(send)))()


def _not_there(store: CaseStore, names: list[str]) -> list[str]:
    """Return which of the cases cannot be read, or lack what was said in them first."""
    wrong = []
    for name in names:
        try:
            if store.case(name).entries[0].token != "first":  # noqa: S105 — of an entry
                wrong.append(f"the first entry of {name} is gone")
        except FoibleError as error:
            wrong.append(str(error))
    return wrong
