"""A photo attached to a case from a phone: one tap, without the network too, and without scripts."""

from __future__ import annotations

import re
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from casework import CasePage
from hands import Finger, Mouse
from PIL import ExifTags, Image
from playwright.sync_api import expect

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page, Route
    from served import Served

pytestmark = pytest.mark.slow

PLACE = "51.4769N 0.0005W"


@pytest.fixture
def shot(tmp_path: Path) -> Path:
    """Take a photo as a phone does: 12 million pixels, lying on its side, with its place."""
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6
    exif.get_ifd(ExifTags.IFD.GPSInfo)[ExifTags.GPS.GPSMapDatum] = PLACE
    Image.new("RGB", (4000, 3000), (90, 120, 200)).save(tmp_path / "holiday.jpg", exif=exif)
    return tmp_path / "holiday.jpg"


def test_a_photo_waits_for_the_network_and_stands_in_the_case(phone: Page, server: Served, shot: Path) -> None:
    case = CasePage(phone, Finger())
    case.begin_at_once(server.url)
    case.lamp("left white lamp").tap()
    sent: list[bytes] = []

    def lost(route: Route) -> None:
        sent.append(route.request.post_data_buffer or b"")
        route.abort()

    phone.route("**/photos", lost)
    phone.get_by_label("add a photo").set_input_files(shot)
    expect(phone.get_by_text("The photo waits on this device for the server.")).to_be_visible()
    expect(phone.get_by_role("status").filter(has_text="1 answer waits")).to_contain_text("photo")
    assert 0 < len(sent[0]) < 1_000_000
    assert PLACE.encode() not in sent[0], "the place does not even leave the device"
    assert b"holiday" not in sent[0]
    expect(case.button("this is what lit")).to_be_enabled()
    phone.unroute("**/photos")
    case.button("try now").tap()
    expect(case.said).to_have_count(2)
    picture = case.said.last.get_by_role("img")
    picture.scroll_into_view_if_needed()
    expect(picture).to_have_js_property("naturalWidth", 240)
    expect(picture).to_have_js_property("naturalHeight", 320)
    expect(case.lamp("left white lamp")).to_have_accessible_name("left white lamp: lit")
    phone.goto(f"{phone.url}/print")
    expect(phone.get_by_role("img", name="photo 1")).to_have_js_property("naturalWidth", 240)


def test_a_file_that_is_no_photo_is_refused_beside_the_button(phone: Page, server: Served, tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("no photo")
    case = CasePage(phone, Finger())
    case.begin_at_once(server.url)
    phone.get_by_label("add a photo").set_input_files(tmp_path / "notes.txt")
    told = phone.locator(".photo .told")
    expect(told).to_contain_text("This file is not a photo. Send a JPEG, PNG or WebP picture.")
    expect(case.said).to_have_count(1)


def test_a_photo_is_attached_without_scripts_and_taken_back(browser_without_scripts: Page, server: Served, shot: Path) -> None:
    page = browser_without_scripts
    case = CasePage(page, Mouse())
    case.begin_at_once(server.url)
    page.get_by_label("add a photo").set_input_files(shot)
    case.button("attach it").click()
    expect(case.said).to_have_count(2)
    address = case.said.last.get_by_role("link").get_attribute("href")
    answer = page.request.get(f"{server.url}{address}")
    assert answer.headers["content-type"] == "image/jpeg"
    with Image.open(BytesIO(answer.body())) as kept:
        assert kept.size == (1200, 1600)
        assert not kept.getexif()
    case.said.last.get_by_role("button", name=re.compile("^take back")).click()
    expect(case.said.last.get_by_role("img")).to_have_count(0)
    assert page.request.get(f"{server.url}{address}").status == 404
