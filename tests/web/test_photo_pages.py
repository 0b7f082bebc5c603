"""Photos taken on a phone, and a photo of a code instead of a scan."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
import zxingcpp
from browser.browsing import browser, opened, served
from core_yard import Yard
from databases import TestDatabase
from made_photos import Shot, bench_top, laid, noise, phone_jpeg, symbol
from station_client import StationClient, station_app, words
from werkzeug.test import TestResponse

from coretrack.actions import photos


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    """A shop with one core that came back in delivery D/1?#."""
    yard = Yard()
    yard.set_up()
    yard.sell()
    yard.bring_back("A1", delivery="D/1?#")
    return yard


@pytest.fixture
def clerk(yard: Yard) -> StationClient:
    return StationClient()


def shot(seed: int = 1) -> bytes:
    return phone_jpeg(noise(seed, (64, 48)))


def send(clerk: StationClient, thing: str, content: bytes, **more: Any) -> TestResponse:
    """Send one photo by the form of the page."""
    headers = more.pop("headers", {})
    fields = {"kind": "core", "of": thing, "what": "fault", "key": "k1", **more}
    fields["photo"] = (BytesIO(content), "IMG_0001.jpg")
    return clerk.post("/photos/new", fields, headers=headers)


def test_a_photo_is_taken_by_the_camera_and_comes_back_as_a_thumbnail(
    yard: Yard, clerk: StationClient
) -> None:
    tag = yard.core("A1").tag
    page = clerk.get("/photos/new", kind="core", key=tag, what="number", back="/cores/").text
    assert 'type="file" name="photo" accept="image/*" capture="environment"' in page
    assert 'value="number" required checked' in page
    answer = send(clerk, tag, shot(), back="/cores/")
    assert answer.status_code == 303
    again = clerk.client.get(answer.headers["Location"]).text
    (photo,) = photos.photos_of("core", tag)
    assert f"/photos/{photo.id}-small.jpg" in again
    assert 'href="/cores/"' in again
    assert yard.is_sound()


def test_a_photo_sent_twice_is_one_photo(yard: Yard, clerk: StationClient) -> None:
    tag = yard.core("A1").tag
    assert send(clerk, tag, shot(1)).status_code == 303
    assert send(clerk, tag, shot(2)).status_code == 303
    assert yard.core("A1").photos == 1


def test_several_photos_of_one_form_are_all_kept(yard: Yard, clerk: StationClient) -> None:
    tag = yard.core("A1").tag
    several = [(BytesIO(shot(seed)), f"{seed}.jpg") for seed in (1, 2, 3)]
    fields = {"kind": "core", "of": tag, "what": "box", "key": "k1", "photo": several}
    assert clerk.post("/photos/new", fields).status_code == 303
    assert yard.core("A1").photos == 3


def test_a_script_is_answered_in_json(yard: Yard, clerk: StationClient) -> None:
    tag = yard.core("A1").tag
    wanted = {"Accept": "application/json"}
    told = send(clerk, tag, shot(), headers=wanted).get_json()
    assert (told["what"], told["room"]) == ("fault", 11)
    assert clerk.get(told["small"]).mimetype == "image/jpeg"
    wrong = send(clerk, tag, b"not a picture", key="k2", headers=wanted)
    assert wrong.status_code == 422
    assert "photo" in wrong.get_json()["error"]


def test_what_is_no_photo_is_said_and_nothing_is_lost(yard: Yard, clerk: StationClient) -> None:
    tag = yard.core("A1").tag
    send(clerk, tag, shot())
    answer = send(clerk, tag, b"%PDF-1.7", key="k2", what="box", back="/cores/")
    assert answer.status_code == 422
    assert 'value="box" required checked' in answer.text
    assert "Photos so far: 1" in words(answer)
    assert 'role="alert"' in answer.text
    none = clerk.post("/photos/new", {"kind": "core", "of": tag, "what": "box", "key": "k3"})
    assert none.status_code == 422
    assert "No photo was chosen" in words(none)
    assert yard.core("A1").photos == 1


def test_a_photo_that_is_too_large_is_said(yard: Yard, clerk: StationClient) -> None:
    clerk.client.application.config["MAX_CONTENT_LENGTH"] = 1000
    answer = send(clerk, yard.core("A1").tag, noise(1, (200, 200)).tobytes())
    assert answer.status_code == 413
    assert "too large" in words(answer)
    assert yard.core("A1").photos == 0


@pytest.mark.parametrize("back", ["//evil.example", "https://evil.example/", "/\\evil", "/\t/x"])
def test_the_way_back_never_leads_to_another_site(
    yard: Yard, clerk: StationClient, back: str
) -> None:
    tag = yard.core("A1").tag
    page = clerk.get("/photos/new", kind="core", key=tag, back=back).text
    assert "evil" not in page
    assert "evil" not in send(clerk, tag, shot(), back=back).headers["Location"]
    assert "evil" not in clerk.get("/photos/scan", back=back).text


def test_photos_are_kept_by_the_browser_and_never_taken_for_a_page(
    yard: Yard, clerk: StationClient
) -> None:
    stored = _added(yard, "core", yard.core("A1").tag)
    for address in (f"/photos/{stored.id}.jpg", f"/photos/{stored.id}-small.jpg"):
        answer = clerk.get(address)
        assert answer.mimetype == "image/jpeg"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert "private" in answer.headers["Cache-Control"]
        assert "max-age=31536000" in answer.headers["Cache-Control"]
        again = clerk.client.get(address, headers={"If-None-Match": answer.headers["ETag"]})
        assert again.status_code == 304
    for number in ("999", "9" * 20):
        assert clerk.get(f"/photos/{number}.jpg").status_code == 404


def _added(yard: Yard, kind: str, key: str, seed: int = 1) -> photos.StoredPhoto:
    return photos.add_photo(
        shot(seed), kind, key, "fault", by=yard.by, station="dock", now=yard.now
    )


def test_photos_of_the_core_in_hand_are_asked_for_again_and_can_be_removed(
    yard: Yard, clerk: StationClient
) -> None:
    draft = photos.draft_key("D/1?#", yard.by)
    stored = _added(yard, "draft", draft)
    answer = clerk.get(f"/photos/{stored.id}-small.jpg")
    assert "no-cache" in answer.headers["Cache-Control"]
    assert "immutable" not in answer.headers["Cache-Control"]
    assert "Photos of the core in hand" in clerk.text("/photos/new", kind="draft", key=draft)
    assert clerk.post("/photos/remove", {"of": draft, "photo": stored.id}).status_code == 303
    assert photos.count_draft_photos(draft) == 0


def test_a_deliverys_key_may_hold_any_sign(yard: Yard, clerk: StationClient) -> None:
    answer = send(clerk, "D/1?#", shot(), kind="lot", what="box")
    assert answer.status_code == 303
    assert "Photos of delivery D/1?#" in words(clerk.client.get(answer.headers["Location"]))
    assert yard.lot("D/1?#").photos == 1


def test_nobody_opens_the_core_in_somebody_elses_hand(yard: Yard, clerk: StationClient) -> None:
    other = photos.draft_key("D/1?#", "Nan Corrie")
    assert clerk.get("/photos/new", kind="draft", key=other).status_code == 404
    assert send(clerk, other, shot(), kind="draft").status_code == 404
    assert clerk.get("/photos/new", kind="person", key="Nan Corrie").status_code == 404


def test_a_photo_of_one_code_is_scanned_at_once(yard: Yard, clerk: StationClient) -> None:
    tag = yard.core("A1").tag
    paper = symbol(tag, zxingcpp.BarcodeFormat.Code128)
    photo = phone_jpeg(laid(bench_top(1500, 2000), paper, Shot(width=900)))
    answer = clerk.post("/photos/scan", {"key": "k1", "photo": (BytesIO(photo), "a.jpg")})
    assert answer.status_code == 200
    assert f"/cores/core?tag={tag}" in answer.text
    assert yard.core("A1").photos == 0


def test_of_several_codes_in_a_photo_one_is_chosen(yard: Yard, clerk: StationClient) -> None:
    tag = yard.core("A1").tag
    background = bench_top(1500, 2000)
    for text, height in ((tag, 0.3), ("XR-55810", 0.7)):
        paper = symbol(text, zxingcpp.BarcodeFormat.Code128)
        background = laid(background, paper, Shot(width=900, middle=(0.5, height)))
    photo = (BytesIO(phone_jpeg(background)), "a.jpg")
    page = clerk.post("/photos/scan", {"key": "k1", "page": "home", "photo": photo})
    assert "2 codes in the photo" in words(page)
    assert f'value="]C0{tag}"' in page.text
    assert f"/cores/core?tag={tag}" not in page.text
    chosen = clerk.post("/photos/scan", {"key": "k2", "page": "home", "text": f"]C0{tag}"})
    assert f"/cores/core?tag={tag}" in chosen.text


def test_a_photo_without_a_code_says_what_helps(yard: Yard, clerk: StationClient) -> None:
    photo = (BytesIO(phone_jpeg(bench_top(300, 400))), "a.jpg")
    page = clerk.post("/photos/scan", {"key": "k1", "back": "/cores/", "photo": photo})
    assert "No code was found. Go closer" in words(page)
    assert 'href="/cores/"' in page.text
    wrong = clerk.post("/photos/scan", {"key": "k1", "photo": (BytesIO(b"text"), "a.jpg")})
    assert wrong.status_code == 422


def test_only_people_who_are_signed_in_for_it_see_photos(yard: Yard) -> None:
    stored = _added(yard, "core", yard.core("A1").tag)
    nobody = StationClient(role="visitor")
    assert nobody.get(f"/photos/{stored.id}.jpg").status_code == 403
    assert StationClient(role="inspector").get(f"/photos/{stored.id}.jpg").status_code == 200


def files(*seeds: int) -> list[Any]:
    """Return photos as a person chooses them."""
    return [
        {"name": f"{seed}.jpg", "mimeType": "image/jpeg", "buffer": shot(seed)} for seed in seeds
    ]


@pytest.mark.browser
def test_photos_are_sent_as_soon_as_they_are_chosen(yard: Yard) -> None:
    tag = yard.core("A1").tag
    with (
        served(station_app()) as address,
        browser() as running,
        opened(running, f"{address}/photos/new?kind=core&key={tag}", "phone") as page,
    ):
        page.get_by_label("fault").check()
        page.set_input_files("#photos", files(1, 2))
        page.set_input_files("#photo", files(3))
        page.locator("#taken li").nth(2).wait_for()
        assert page.get_by_text("Stored: fault.").count() == 3
        assert "At most 9 more." in page.inner_text("#photo-hint")
        # The form is empty again: pressing its button sends nothing twice.
        assert page.evaluate("document.getElementById('photo').files.length") == 0
    assert [photo.what for photo in photos.photos_of("core", tag)] == ["fault"] * 3


@pytest.mark.browser
def test_a_photo_that_meets_no_connection_is_kept_and_sent_again_once(yard: Yard) -> None:
    tag = yard.core("A1").tag
    with served(station_app()) as address, browser() as running:
        page = running.new_page()
        page.goto(f"{address}/photos/new?kind=core&key={tag}")
        page.clock.install()
        page.route("**/photos/new", lambda route: route.abort())
        page.set_input_files("#photo", files(1))
        again = page.get_by_role("button", name="Send again")
        for _ in range(30):
            if again.is_visible():
                break
            page.clock.run_for(1000)
        assert photos.photos_of("core", tag) == []
        page.unroute("**/photos/new")
        again.click()
        page.get_by_text("Stored: whole core.").wait_for()
        page.close()
    assert len(photos.photos_of("core", tag)) == 1


@pytest.mark.browser
def test_without_a_script_the_large_button_sends_the_photo(yard: Yard) -> None:
    tag = yard.core("A1").tag
    with served(station_app()) as address, browser() as running:
        page = running.new_page(java_script_enabled=False)
        page.goto(f"{address}/photos/new?kind=core&key={tag}")
        page.set_input_files("#photo", files(1))
        page.get_by_role("button", name="Send the photo").click()
        page.locator("#taken img").wait_for()
        page.close()
    assert len(photos.photos_of("core", tag)) == 1
