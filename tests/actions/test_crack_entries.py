"""What is told of an indication at the bench, and the pictures of bodies it is marked on."""

from __future__ import annotations

from io import BytesIO
from itertools import count
from typing import Any

import pytest
from bench_desk import TODAY, Inspector, bodies
from core_yard import Yard
from made_photos import bench_top

from coretrack.actions import body_pictures, crack_entries, photos
from coretrack.actions.bench_hand import hand_of
from coretrack.actions.body_pictures import MOST_PICTURES, picture_of, pictures_view
from coretrack.actions.crack_entries import CrackTold, cracks_of
from coretrack.errors import InvalidInput, NotAllowed, NotFound
from coretrack.records.database import connection

keys = (f"crack-{number}" for number in count())


def told(by: str = "Bela Quirke") -> dict[str, Any]:
    return {"by": by, "station": "bench 1", "now": TODAY, "key": next(keys)}


def picture(seed: int, width: int = 640) -> bytes:
    buffer = BytesIO()
    bench_top(width, 480, seed=seed).save(buffer, "JPEG")
    return buffer.getvalue()


@pytest.fixture
def tag(yard: Yard) -> str:
    """The tag of one body with an indication typed and nothing more told."""
    (tag,) = bodies(yard, 1)
    Inspector().at(tag).type("#crack", "indication")
    return tag


def form(tag: str, **typed: str) -> CrackTold:
    with connection():
        (entry,) = hand_of(tag).entries
    return CrackTold(entry.check, entry.at, entry.by, **typed)


def detail(yard: Yard, tag: str) -> dict[str, Any]:
    """Return the crack of the core's stored reading."""
    (stored,) = [d for event, d in yard.history("core", tag) if event == "inspected"]
    (reading,) = [each for each in stored["readings"] if each["check"] == "crack"]
    return dict(reading["crack"])


def test_kind_length_place_mark_and_photo_are_kept_with_the_verdict(yard: Yard, tag: str) -> None:
    body_pictures.add_picture(picture(1), "GPB", **told(by="Ilse Thornby"))
    doer = {name: value for name, value in told().items() if name != "key"}
    photo = photos.add_photo(picture(2), "core", tag, "fault", **doer)
    bela = Inspector(start=TODAY).at(tag)
    panel = bela.view().crack
    assert panel is not None
    assert panel.picture is not None
    typed = {"kind": "linear", "length": "4,50", "place": "seat", "x": "250", "y": "700"}

    said = crack_entries.tell(tag, form(tag, **typed, photo=photo.sha256), **told())

    assert said == "linear, 4.5 mm, at seat, marked in zone 7"
    bela.look()
    assert bela.type("").word == "SCRAP"
    assert detail(yard, tag) == {
        "kind": "linear",
        "length": "4,50",
        "micro_mm": 4_500_000,
        "place": "seat",
        "x": 250,
        "y": 700,
        "picture": panel.picture.sha256,
        "photo": photo.sha256,
    }
    (shown,) = cracks_of(tag)
    assert (shown.photo, shown.picture) == (photo.id, panel.picture)
    assert shown.by == "Bela Quirke"
    assert yard.is_sound()


def test_a_mark_stays_on_the_picture_it_was_made_on(yard: Yard, tag: str) -> None:
    body_pictures.add_picture(picture(1), "GPB", **told(by="Ilse Thornby"))
    crack_entries.tell(tag, form(tag, place="3"), **told())
    newer = body_pictures.add_picture(picture(2, 500), "GPB", **told(by="Ilse Thornby"))
    Inspector(start=TODAY).at(tag).type("")
    (shown,) = cracks_of(tag)
    assert shown.picture is not None
    assert shown.picture.sha256 != newer.sha256
    assert (shown.crack.x, shown.crack.y, shown.crack.place) == (833, 166, "3")
    with connection():
        assert picture_of("GPB") == newer
    again = body_pictures.add_picture(picture(1), "GPB", **told(by="Ilse Thornby"))
    with connection():
        assert picture_of("GPB") == again
    (family,) = [each for each in pictures_view() if each.code == "GPB"]
    assert (family.picture, family.others, family.crack_checks) == (again, 1, 1)
    assert yard.is_sound()


def test_what_is_wrong_is_named_at_its_field_and_nothing_is_kept(yard: Yard, tag: str) -> None:
    wrong = form(tag, kind="hairy", length="0", x="5", y="1001", photo="none such")
    with pytest.raises(InvalidInput) as refused:
        crack_entries.tell(tag, wrong, **told())
    assert set(refused.value.fields) == {"kind", "length", "x", "photo"}
    with connection():
        assert hand_of(tag).entries[0].crack == {}


def test_nothing_can_be_told_of_what_is_stored_or_taken_back(yard: Yard, tag: str) -> None:
    known = form(tag, kind="pit")
    Inspector(start=TODAY).at(tag).type("")
    with pytest.raises(NotAllowed, match="is stored, or was taken back"):
        crack_entries.tell(tag, known, **told())


def test_what_is_told_changes_no_verdict(yard: Yard, tag: str) -> None:
    bela = Inspector(start=TODAY).at(tag)
    before = bela.view().proposed
    crack_entries.tell(tag, form(tag, kind="other", place="a scratch, I think"), **told())
    after = bela.look().proposed
    assert before is not None
    assert after is not None
    assert (before.grade, after.grade) == ("scrap", "scrap")


def test_a_body_has_a_bounded_number_of_pictures(yard: Yard) -> None:
    for seed in range(MOST_PICTURES):
        body_pictures.add_picture(picture(seed, 200), "GPB", **told(by="Ilse Thornby"))
    with pytest.raises(InvalidInput, match="no more are kept"):
        body_pictures.add_picture(picture(99, 200), "GPB", **told(by="Ilse Thornby"))
    with pytest.raises(NotFound):
        body_pictures.add_picture(picture(1), "NONE", **told(by="Ilse Thornby"))
    with pytest.raises(InvalidInput):
        body_pictures.add_picture(b"no picture", "GPB", **told(by="Ilse Thornby"))
