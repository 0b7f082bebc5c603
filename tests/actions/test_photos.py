"""Photos: stored once where they belong, named by the history, moved with the core in hand."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from core_yard import Yard
from made_photos import noise, phone_jpeg

from coretrack.actions import photos
from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.tags import show_tag
from coretrack.records.station_tables import PhotoRow
from coretrack.records.verify import verify
from coretrack.records.writer import writing


def shot(seed: int) -> bytes:
    """Return a small photo, another one for each seed."""
    return phone_jpeg(noise(seed, (64, 48)))


def add(yard: Yard, content: bytes, kind: str, key: str, **more: Any) -> photos.StoredPhoto:
    told = {"what": "fault", "action_key": "", **more}
    return photos.add_photo(
        content,
        kind,
        key,
        told["what"],
        by=told.get("by", yard.by),
        station="dock",
        now=yard.now,
        action_key=told["action_key"],
    )


@pytest.fixture
def tag(yard: Yard) -> str:
    """Return the tag of a core that came back."""
    yard.sell()
    yard.bring_back("A1", delivery="D1")
    return str(yard.core("A1").tag)


def test_a_cores_photo_is_kept_cleaned_and_its_history_names_it(yard: Yard, tag: str) -> None:
    stored = add(yard, shot(1), "core", tag)
    assert yard.core("A1").photos == 1
    assert ("photographed", {"sha256": stored.sha256, "what": "fault"}) in yard.history("core", tag)
    content, known = photos.photo(stored.id)
    assert known == stored
    assert b"left-hand drawer" not in content
    assert (known.width, known.height, known.by) == (64, 48, yard.by)
    assert photos.photos_of("core", tag) == [stored]
    assert yard.is_sound()


def test_the_very_same_photo_acts_once_and_another_one_again(yard: Yard, tag: str) -> None:
    first = add(yard, shot(1), "core", tag)
    assert add(yard, shot(1), "core", tag).id == first.id
    assert add(yard, shot(2), "core", tag).id != first.id
    assert yard.core("A1").photos == 2
    assert yard.is_sound()


def test_a_form_sent_twice_stores_one_photo(yard: Yard, tag: str) -> None:
    first = add(yard, shot(1), "core", tag, action_key="k1")
    # A phone may make other bytes of the same picture when it sends it again.
    again = add(yard, shot(2), "core", tag, action_key="k1")
    assert again == first
    assert yard.core("A1").photos == 1


def test_a_deliverys_photo_counts_on_the_delivery(yard: Yard, tag: str) -> None:
    add(yard, shot(3), "lot", "D1", what="box")
    assert yard.lot("D1").photos == 1
    assert [photo.what for photo in photos.photos_of("lot", "D1")] == ["box"]
    assert yard.is_sound()


def test_the_core_in_hand_takes_its_photos_along_when_it_gets_its_tag(yard: Yard, tag: str) -> None:
    draft = photos.draft_key("D1", yard.by)
    add(yard, shot(4), "draft", draft)
    add(yard, shot(5), "draft", draft, what="number")
    assert photos.count_draft_photos(draft) == 2
    assert yard.core("A1").photos == 0
    with writing(yard.by, yard.now, "dock") as writer:
        assert photos.move_draft_photos(writer, draft, tag) == 2
    assert photos.count_draft_photos(draft) == 0
    assert [photo.what for photo in photos.photos_of("core", tag)] == ["fault", "number"]
    assert yard.core("A1").photos == 2
    assert yard.is_sound()


def test_what_two_phones_sent_at_the_same_moment_becomes_one_photo_of_the_core(
    yard: Yard, tag: str
) -> None:
    draft = photos.draft_key("D1", yard.by)
    stored = add(yard, shot(4), "draft", draft)
    with writing(yard.by, yard.now, "dock") as writer:
        row = {
            name: getattr(stored, name)
            for name in ("sha256", "what", "at", "by", "width", "height")
        }
        PhotoRow.create(object_kind="draft", object_key=draft, content=b"", **row)
        assert photos.move_draft_photos(writer, draft, tag) == 1
    assert yard.core("A1").photos == 1
    assert yard.is_sound()


def test_nothing_is_moved_when_the_core_is_not_stored_after_all(yard: Yard, tag: str) -> None:
    draft = photos.draft_key("D1", yard.by)
    add(yard, shot(4), "draft", draft)

    def stopped() -> None:
        with writing(yard.by, yard.now, "dock") as writer:
            photos.move_draft_photos(writer, draft, tag)
            raise InvalidInput("not stored after all")

    with pytest.raises(InvalidInput):
        stopped()
    assert photos.count_draft_photos(draft) == 1
    assert yard.core("A1").photos == 0
    assert yard.is_sound()


def test_a_photo_of_a_core_in_hand_is_removed_by_its_own_key_only(yard: Yard, tag: str) -> None:
    mine, other = photos.draft_key("D1", yard.by), photos.draft_key("D1", "Nan Corrie")
    one = add(yard, shot(4), "draft", mine)
    add(yard, shot(5), "draft", mine)
    add(yard, shot(4), "draft", other, by="Nan Corrie")
    photos.remove_draft_photo(one.id, other)
    assert photos.count_draft_photos(mine) == 2
    photos.remove_draft_photo(one.id, mine)
    assert photos.count_draft_photos(mine) == 1
    assert photos.count_draft_photos(other) == 1


def test_a_stored_cores_photo_cannot_be_removed(yard: Yard, tag: str) -> None:
    kept = add(yard, shot(1), "core", tag)
    photos.remove_draft_photo(kept.id, tag)
    assert photos.photos_of("core", tag) == [kept]


def test_photos_of_one_core_have_a_limit_and_nothing_is_lost_at_it(yard: Yard, tag: str) -> None:
    for seed in range(photos.MOST_PHOTOS):
        add(yard, shot(seed), "core", tag)
    with pytest.raises(InvalidInput, match="12 photos already"):
        add(yard, shot(99), "core", tag)
    assert yard.core("A1").photos == photos.MOST_PHOTOS
    # One of those that are there is still answered.
    assert add(yard, shot(0), "core", tag).what == "fault"


def test_what_is_no_photo_or_belongs_to_nothing_is_refused_by_name(yard: Yard, tag: str) -> None:
    with pytest.raises(InvalidInput, match="photo"):
        add(yard, b"%PDF-1.7 and more", "core", tag)
    with pytest.raises(NotFound, match="1000009999"):
        add(yard, shot(1), "core", "1000009999")
    with pytest.raises(NotFound, match="D9"):
        add(yard, shot(1), "lot", "D9")
    with pytest.raises(InvalidInput, match="'wheel'"):
        add(yard, shot(1), "wheel", tag)
    with pytest.raises(InvalidInput, match="whole core"):
        add(yard, shot(1), "core", tag, what="sunset")
    assert yard.core("A1").photos == 0


def test_nobody_photographs_the_core_in_somebody_elses_hand(yard: Yard, tag: str) -> None:
    with pytest.raises(NotFound, match="in your hand"):
        add(yard, shot(1), "draft", photos.draft_key("D1", "Nan Corrie"))
    with pytest.raises(NotFound, match="'D9'"):
        add(yard, shot(1), "draft", photos.draft_key("D9", yard.by))
    with pytest.raises(NotFound, match="in your hand"):
        photos.album("draft", photos.draft_key("D1", "Nan Corrie"), by=yard.by)


def test_the_album_names_the_object_and_the_room_left(yard: Yard, tag: str) -> None:
    add(yard, shot(1), "core", tag)
    album = photos.album("core", tag, by=yard.by)
    assert (album.title, album.room) == (f"core {show_tag(tag)}", 11)
    assert photos.album("lot", "D1", by=yard.by).title == "delivery D1"
    assert photos.album("draft", photos.draft_key("D1", yard.by), by=yard.by).photos == ()


def test_a_thumbnail_is_small_and_a_missing_photo_is_said(yard: Yard, tag: str) -> None:
    stored = add(yard, phone_jpeg(noise(7, (1200, 900))), "core", tag)
    small, known = photos.thumbnail_of(stored.id)
    assert known == stored
    assert len(small) < len(photos.photo(stored.id)[0]) / 4
    with pytest.raises(NotFound, match="no photo 999"):
        photos.photo(999)


def test_a_photo_changed_behind_coretracks_back_is_found(yard: Yard, tag: str) -> None:
    add(yard, shot(1), "core", tag)
    yard.now += timedelta(minutes=1)
    with writing(yard.by, yard.now):
        PhotoRow.update(content=b"another picture").execute()
    _, found = verify()
    assert ["not the picture that was taken" in difference.what for difference in found] == [True]
