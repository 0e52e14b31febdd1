"""Every page that there is, by name, with what has to be done to bring it into a telling state."""

from __future__ import annotations

from dataclasses import dataclass, fields
from io import BytesIO
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from casework import DEMO_SAYS
from PIL import Image

if TYPE_CHECKING:
    from collections.abc import Mapping

    from playwright.sync_api import APIRequestContext, Page, Response

__all__ = ["NAMES", "Places", "prepared", "visit"]

AT_REST = "leave the whole strip at rest"
METERED = "hold the meter to the guard and to the bare blade of the left foil"
BROKEN = "left cord B wire, middle: broken in the middle"
STAGED = "left cord clip bite: off, dirty or corroded"


@dataclass(frozen=True)
class Places:
    """Where things are on one server: a case at the piste, one on the workbench, one of which nothing is known."""

    url: str
    piste: str
    workbench: str
    empty: str
    proof: str
    closed: str
    suspect: str
    item: str
    meter_trial: str
    shared: Mapping[str, str]
    """Pages of a server that is shared, as text by their addresses: this one is not."""

    # long: one line for each page
    @property
    def paths(self) -> dict[str, str]:  # long: a list of pages
        """The address of every page by its name."""
        suspect = f"{self.piste}/suspects/{quote(self.suspect)}"
        return {
            "the start": "/",
            "a new foil case": "/new/foil",
            "a new épée case": "/new/epee",
            "a new sabre case": "/new/sabre",
            "a case at the piste": self.piste,
            "a case with lamps touched": f"{self.piste}?say={quote(AT_REST)}",
            "a case on the bench": self.workbench,
            "a case where an answer was refused": f"{self.workbench}?say={quote(self.meter_trial)}",
            "a case of which nothing is known": self.empty,
            "a case that waits for the network": self.piste,
            "a case to be proved": self.proof,
            "a case that is closed": self.closed,
            "another trial": f"{self.piste}/trials",
            "something else": f"{self.piste}/own",
            "a suspect on the strip": f"{suspect}?zoom=strip",
            "a suspect in its item": f"{suspect}?zoom=item",
            "a suspect close up": f"{suspect}?zoom=part",
            "an item": f"{self.piste}/items/{quote(self.item)}",
            "a case on paper": f"{self.piste}/print",
            "circuit": "/circuit/foil",
            "circuit, one step": "/circuit/epee/a-on-c",
            "what if": f"/what-if/foil?failure={quote(BROKEN)}",
            "the field card": "/card/sabre",
            "the rulebook": "/rules",
            "what the rule says": "/rules?words=mask&weapon=sabre",
            "what your meter can tell": "/control/meter",
            "what a meter cannot tell": "/control/meter?limit=blade-droop.foil&instrument=my+own&step=abc",
            "gauges and weights": "/control/shims?1.5+mm+shim=1.46&0.5+mm+shim=0.52&500+g+weight=503",
            "the budget of a loop": "/control/budget?weapon=foil&read+weapon=1.2&read+reel+line+B=3.2",
            "how editions differ": "/rules/difference?kind=mask",
            "a plan of the control table": "/control/plan?fencers=60&weapon=sabre",
            "taking in a case file": "/case-file",
            "a file that was refused": "/case-file",
            "help": "/help",
            "the API": "/api",
            "this Foible": "/this-foible",
            "other devices": "/share",
            "other devices, shared": "/share",
            "devices, joined": "/devices",
            "joining": "/join",
            "the practice strip": "/practice",
            "the lessons": "/practice/lessons",
            "a step of a lesson": "/practice/lessons/foil/foil-loop",
            "a question of a lesson": "/practice/lessons/foil/foil-loop/where-is-it-open",
            "a question of a lesson, answered": "/practice/lessons/foil/foil-loop/c-broken?taken=0",
            "hidden faults": "/practice/strip",
            "a hidden fault": "/practice/strip/foil/steady/3?did=t3-t49&at=left+cord",
            "a hidden fault, named": "/practice/strip/foil/steady/3/name?did=t3",
            "the talk about a hidden fault": "/practice/strip/foil/steady/3/talk?did=t3-x5-t3-n5",
            "a fault by hand": "/practice/trainer/foil",
            "a fault made by hand": f"/practice/trainer/foil?failure={quote(BROKEN)}",
            "the big screen": "/practice/screen/foil/steady/3?did=t3-t49",
            "the big screen, laid open": "/practice/screen/foil/steady/3?did=t3-t49&open=1",
            "worksheets": "/practice/worksheets",
            "exercises on real kit": "/practice/exercise/foil",
            "an exercise on real kit": f"/practice/exercise/foil?failure={quote(STAGED)}",
            "an exercise that is not staged": f"/practice/exercise/foil?failure={quote('left weapon blade: broken')}",
            "the morning of the event": "/control/morning?weapon=sabre&piste=false",
            "the sheets": "/control/sheets",
            "a sheet to fill in": "/control/sheets/apparatus?weapon=sabre",
            "an error": "/cases/nosuch",
        }


NAMES = tuple(Places(**dict.fromkeys((each.name for each in fields(Places)), "")).paths)  # type: ignore[arg-type]


def prepared(api: APIRequestContext, url: str, shared: Mapping[str, str]) -> Places:
    """Open the cases that the pages show."""

    def told(method: str, path: str, data: Mapping[str, object]) -> dict[str, Any]:
        answer = api.fetch(f"{url}/api/cases{path}", method=method, data=data)
        assert answer.ok, answer.text()
        body: dict[str, Any] = answer.json()
        return body

    complaint = {"weapon": "foil", "complaint": DEMO_SAYS, "side": "left"}
    piste = told("POST", "", complaint)
    offered = piste["diagnosis"]["next"][0]["say"]
    piste = told("POST", f"/{piste['id']}/answers", {"say": offered, "report": ["left white"], "token": "one"})
    workbench = told("POST", "", complaint)
    workbench = told(
        "PUT", f"/{workbench['id']}/place", {"place": "bench", "item": "left weapon", "tools": ["meter", "screwdriver"]}
    )
    empty = told("POST", "", {"weapon": "épée"})
    proof, closed = told("POST", "", complaint), told("POST", "", complaint)
    told("POST", f"/{proof['id']}/answers", {"say": offered, "report": ["left white"], "token": "one"})
    told("POST", f"/{proof['id']}/acts", {"exchanged": ["left cord"], "token": "two"})
    told("PUT", f"/{closed['id']}/ending", {"ending": "out of use", "item": "left weapon", "token": "one"})
    photo = BytesIO()
    Image.new("RGB", (400, 300), (120, 140, 160)).save(photo, "JPEG")
    sent = {"Content-Type": "image/jpeg"}
    assert api.post(f"{url}/api/cases/{piste['id']}/photos?token=photo", data=photo.getvalue(), headers=sent).ok
    first = piste["diagnosis"]["suspects"][0]
    at = [f"/cases/{case['id']}" for case in (piste, workbench, empty, proof, closed)]
    return Places(url, at[0], at[1], at[2], at[3], at[4], first["part"], first["item"], METERED, shared)


def visit(page: Page, places: Places, name: str) -> Response:
    """Open a page by its name, unfold all of it, and do what makes it that page."""
    if name in ("other devices, shared", "devices, joined"):
        path = places.paths[name]
        page.route(f"**{path}", lambda route: route.fulfill(response=route.fetch(), body=places.shared[path]))
    answer = page.goto(places.url + places.paths[name])
    assert answer
    if name == "a case with lamps touched":
        for times, lamp in enumerate(("left white lamp", "left yellow lamp", "right green lamp", "right white lamp"), 1):
            for _ in range(times):
                page.get_by_role("button", name=f"{lamp}:").click()
    if name == "a case that waits for the network":
        page.route("**/answer", lambda route: route.abort())
        page.locator("[data-answer] .chief").first.click()
        page.get_by_text("1 answer waits for the network.").wait_for()
    if name == "a case where an answer was refused":
        page.get_by_label("What does the meter read?").fill("abc")
        page.get_by_role("button", name="save").click()
        page.get_by_text("Nothing was saved, and nothing is lost.").wait_for()
    if name == "a file that was refused":
        page.get_by_label("or paste its text").fill('weapon = "rapier"')
        page.get_by_role("button", name="import").click()
        page.get_by_text("This file cannot be imported.").wait_for()
    if name == "the field card":
        page.get_by_role("region", name="step 1", exact=True).wait_for(timeout=120_000)  # it takes some seconds
    page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    return answer
