"""Labels, receipts, order list, import and export in the browser: what is asked for comes, and what is wrong loses nothing."""

from __future__ import annotations

import json
import re
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from client import FromHere, TestClient
from foible.services.opening import open_cases
from foible.web.application import create_app
from foible.web.settings import Settings
from paper import scanned

if TYPE_CHECKING:
    from collections.abc import Iterator

    from httpx import Response

REGISTER = Path(__file__).parent / "data" / "register.json"
CSV = "Label,What,Weapon,Owner,Hue\nk1,Body cord,foil,Ada Brook (Millrace),blue\nk2,lamé,foil,,\n"


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    cases = open_cases(f"sqlite:///{tmp_path_factory.mktemp('paper') / 'records.db'}")
    with TestClient(FromHere(create_app(cases, Settings(secret="a", hosts=("testserver",))))) as made:
        upload(made, REGISTER.read_bytes(), "register.json")
        yield made


def token(client: TestClient, page: str) -> str:
    found = re.search(r'name="csrf" value="([^"]*)"', client.get(page).text)
    assert found
    return found[1]


def tried(client: TestClient, raw: bytes, name: str, table: str = "") -> Response:
    form = {"csrf": token(client, "/register/import"), "table": table}
    answer: Response = client.post("/register/import", data=form, files={"file": (name, raw)})
    return answer


def upload(client: TestClient, raw: bytes, name: str) -> Response:
    """Import a file, and wait until it is done."""
    trial = tried(client, raw, name)
    assert trial.status_code == 200, trial.text
    address = trial.url.path
    answer: Response = client.post(address, data={"csrf": token(client, address), "do": "take"})
    for _ in range(100):
        if "Importing" not in answer.text:
            break
        time.sleep(0.1)  # between two looks at whether the condition holds
        answer = client.get(address)
    assert "<b>Imported</b>" in answer.text, answer.text
    return answer


def test_a_spreadsheet_is_tried_matched_taken_in_once_and_labelled(client: TestClient) -> None:
    trial = tried(client, CSV.encode(), "kit.csv")
    assert "It can be imported" in trial.text
    assert "items 2" in trial.text
    assert "Not taken in of items: “Hue”" in trial.text.replace("&#34;", '"')
    address = trial.url.path
    form = {"csrf": token(client, address), "do": "look", "table": "items", "shown": "items"}
    form |= {f"head_{n}": head for n, head in enumerate(CSV.partition("\n")[0].split(","), 1)}
    form |= {"as_1": "code", "as_2": "kind", "as_3": "weapon", "as_4": "owner", "as_5": "notes"}
    again = client.post(address, data=form)
    assert "Not taken in" not in again.text
    done = upload(client, CSV.encode(), "kit.csv")
    assert "labels for 2 items" in done.text
    labels = re.search(r'href="(/register/labels\?imported=\w+)"', done.text)
    assert labels
    assert "k1 k2" in client.get(labels[1]).text
    refused = tried(client, CSV.encode(), "kit.csv")
    assert refused.status_code == 422
    assert refused.text.count("is taken") == 2, "the same again would be there twice"


def test_what_is_wrong_is_listed_by_row_and_cannot_be_taken_in(client: TestClient) -> None:
    trial = tried(client, b"kind,weapon,price\ncord,lance,3\nwheel,foil,x\n", "kit.csv")
    assert trial.status_code == 422
    assert "2 problems; nothing was saved" in trial.text
    assert "Items, row 2, weapon" in trial.text
    assert "Items, row 3, price" in trial.text
    after = client.post(trial.url.path, data={"csrf": token(client, trial.url.path), "do": "take"})
    for _ in range(50):
        if "Importing" not in after.text:
            break
        time.sleep(0.1)  # between two looks at whether the condition holds
        after = client.get(trial.url.path)
    assert after.status_code == 422
    assert "Imported" not in after.text


@pytest.mark.parametrize(
    ("raw", "name"),
    [(b"", "empty.csv"), (b"PK\x03\x04\0", "kit.xlsx"), (b'{"kit": 1}', "../../<b>kit</b>.json"), (b'kind\n"open', "kit.csv")],
)
def test_what_is_no_table_is_refused_and_its_name_does_no_harm(client: TestClient, raw: bytes, name: str) -> None:
    refused = tried(client, raw, name)
    assert refused.status_code == 422
    assert "Nothing was saved" in refused.text
    assert "<b>kit</b>" not in refused.text


@pytest.mark.parametrize("ref", ["0" * 24, "..%2f..%2fetc", "x"])
def test_a_file_that_does_not_wait_here_is_not_found(client: TestClient, ref: str) -> None:
    assert client.get(f"/register/import/{ref}").status_code == 404


def test_everything_is_exported_and_tried_again(client: TestClient) -> None:
    told = client.get("/register/export.json").json()
    kept = json.loads(REGISTER.read_text("utf-8"))
    assert told["jobs"] == kept["jobs"]
    assert told["items"][: len(kept["items"])] == kept["items"]
    assert client.get("/register/export.zip").content.startswith(b"PK")
    assert "export.json" in client.get("/register/export").text


def test_labels_lead_to_their_item_at_the_address_that_phones_know(client: TestClient) -> None:
    asked = {"codes": "wfk3m, s1", "sheet": "A4, 2 × 7", "first": "3", "address": "http://10.0.0.7:8711"}
    answer = client.get("/register/labels.pdf", params=asked)
    assert answer.headers["content-type"] == "application/pdf"
    assert [[read.text for read in page] for page in scanned(answer.content)] == [
        ["http://10.0.0.7:8711/i/wfk3m", "http://10.0.0.7:8711/i/s1"]
    ]
    assert client.get("/i/wfk3m").url.path == "/register/items/wfk3m"
    since = client.get("/register/labels.pdf", params={"since": "2020-01-01"})
    assert sum(map(len, scanned(since.content))) >= 2


@pytest.mark.parametrize(
    ("change", "seen"),
    [
        ({"codes": "nowhere"}, "nowhere"),
        ({"codes": ""}, "nothing to label"),
        ({"first": "25"}, "label 25"),
        ({"first": "x"}, "first free label"),
        ({"address": "javascript:alert(1)"}, "is no address"),
        ({"sheet": "own", "columns": "3", "rows": "8", "width_mm": "90", "height_mm": "30"}, "270 mm wide"),
        ({"sheet": "own", "columns": "three"}, "columns"),
    ],
)
def test_labels_that_cannot_be_made_lose_nothing_of_the_form(client: TestClient, change: dict[str, str], seen: str) -> None:
    asked = {"codes": "wfk3m", "first": "2", "address": "http://10.0.0.7"} | change
    refused = client.get("/register/labels.pdf", params=asked)
    assert refused.status_code in (404, 422)
    assert seen.casefold() in refused.text.casefold()
    assert f'value="{asked["first"]}"' in refused.text


def test_receipt_and_order_list(client: TestClient) -> None:
    receipt = client.get("/register/jobs/1/receipt.pdf")
    assert [read.text for read in scanned(receipt.content)[0]] == ["http://testserver/i/wfk3m"]
    assert client.get("/register/jobs/99/receipt.pdf").status_code == 404
    assert client.get("/register/order-list.pdf").content.startswith(b"%PDF")
    assert client.get("/register/order-list.csv").text.lstrip("\ufeff").startswith("code,part")
    assert "There is enough" in client.get("/register/order-list").text
