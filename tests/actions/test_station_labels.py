"""Labels at the station: noted once when they are sent, on the right places, by command or not."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest
from core_yard import Yard
from label_reading import printed_pages, read_all

from coretrack.actions import cards, label_command, station_labels, station_settings
from coretrack.actions.station_labels import LabelRun
from coretrack.errors import InvalidInput, NotAllowed, NotFound, Unavailable
from coretrack.figures.tags import make_shop_code, show_tag
from coretrack.records.writer import writing


def told(yard: Yard, key: str = "") -> dict[str, Any]:
    return {"by": yard.by, "station": "dock", "now": yard.now, "key": key}


def print_on(yard: Yard, *tags: str, stock: str = "", key: str = "", **more: Any) -> LabelRun:
    return station_labels.note_printed(tags, stock, **told(yard, key), **more)


def returned(yard: Yard, count: int = 3) -> list[str]:
    """Return the tags of cores that came back in delivery D1."""
    yard.sell(quantity=count)
    yard.bring_back(*(f"A{n}" for n in range(count)), delivery="D1")
    return [core.tag for core in yard.cores()]


def codes_of(pdf: bytes, dpi: int = 300) -> list[str]:
    """Return what an independent reader reads from a printed PDF."""
    pages = printed_pages(pdf, dpi, touched=True)
    return [text for page in pages for text in read_all(page)]


def set_command(yard: Yard, *command: str) -> None:
    settings = station_settings.station_settings()
    changed = station_settings.StationSettings(
        command,
        settings.label_stock,
        settings.sheet_stock,
        settings.paper_size,
        settings.hold_days,
        settings.idle_minutes,
    )
    station_settings.change_settings(changed, **told(yard))


def printer(folder: Path, script: str) -> tuple[str, ...]:
    """Return a print command that runs a few lines of Python on the file."""
    path = folder / "printer.py"
    path.write_text(script, encoding="utf-8")
    return (sys.executable, str(path), "{file}", str(folder / "printed"))


KEEPS = "import shutil, sys; shutil.copy(sys.argv[1], sys.argv[2])"


def test_a_printed_label_is_an_event_and_the_next_one_is_a_reprint(yard: Yard) -> None:
    (tag,) = returned(yard, 1)
    print_on(yard, tag)
    print_on(yard, tag)
    details = [detail for event, detail in yard.history("core", tag) if event == "label printed"]
    assert details == [
        {"stock": "roll-50x25", "reprint": False},
        {"stock": "roll-50x25", "reprint": True},
    ]
    assert yard.core("A0").labels == 2
    assert yard.is_sound()


def test_a_print_sent_twice_is_noted_once_and_answers_the_same(yard: Yard) -> None:
    tags = returned(yard)
    first = print_on(yard, *tags, stock="a4-24", key="k1")
    again = print_on(yard, *tags, stock="a4-24", key="k1")
    assert first == again == station_labels.sent_run("k1")
    assert (first.first, first.next_free) == (1, 4)
    assert yard.core("A0").labels == 1


def test_looking_at_a_print_page_notes_nothing(yard: Yard) -> None:
    (tag,) = returned(yard, 1)
    before = yard.events()
    pages = station_labels.labels_page([tag])
    assert len(pages.pages) == 1
    assert show_tag(tag) in pages.pages[0]
    assert yard.events() == before
    assert yard.core("A0").labels == 0


def test_the_next_batch_begins_where_the_last_one_ended(yard: Yard) -> None:
    tags = returned(yard)
    assert print_on(yard, *tags, stock="a4-24", first=23).next_free == 2
    after = print_on(yard, tags[0], stock="a4-24")
    assert (after.first, after.next_free) == (2, 3)
    assert station_labels.labels_page(tags, "a4-24").first == 3
    # Another stock has its own sheet in the printer.
    assert print_on(yard, tags[0], stock="letter-30").first == 1
    choices = {choice.name: choice for choice in station_labels.stock_choices()}
    assert choices["a4-24"].next_free == 3
    assert choices["roll-50x25"].places == 0
    assert "a4-cards-10" not in choices
    assert yard.is_sound()


@pytest.mark.parametrize("first", [0, 25, -1])
def test_a_first_place_off_the_sheet_is_refused_with_the_range(yard: Yard, first: int) -> None:
    tags = returned(yard, 1)
    with pytest.raises(InvalidInput, match=f"1 to 24 on 'a4-24', not {first}"):
        print_on(yard, *tags, stock="a4-24", first=first)
    assert yard.core("A0").labels == 0


def test_an_unknown_tag_is_refused_by_name_and_nothing_is_noted(yard: Yard) -> None:
    (tag,) = returned(yard, 1)
    with pytest.raises(NotFound, match="'1234567890'"):
        print_on(yard, tag, "1234567890")
    assert yard.core("A0").labels == 0
    with pytest.raises(NotFound, match="'D7'"):
        station_labels.chosen_tags("", "D7")
    with pytest.raises(InvalidInput, match="no label to print"):
        station_labels.chosen_tags("  \n ", "")
    with pytest.raises(InvalidInput, match="card for bins"):
        print_on(yard, tag, stock="a4-cards-10")


def test_a_label_that_cannot_be_printed_does_not_stop_the_others(yard: Yard) -> None:
    (tag,) = returned(yard, 1)
    run = print_on(yard, tag, texts=["CT-00В1", "CT-00B1"], stock="a4-24")
    assert (run.tags, run.texts, run.next_free) == ((tag,), ("CT-00B1",), 3)
    ((text, why),) = run.refused
    assert text == "CT-00В1"
    assert "В" in why
    pages = station_labels.labels_page([tag], "a4-24", None, ["CT-00В1", "CT-00B1"])
    assert pages.printed == 2
    assert [text for text, _ in pages.refused] == ["CT-00В1"]


def test_a_core_that_left_the_house_gets_no_label(yard: Yard) -> None:
    (tag,) = returned(yard, 1)
    with writing(yard.by, yard.now) as writer:
        writer.event("core", tag, "taken back", {})
    run = print_on(yard, tag)
    assert run.tags == ()
    assert "no longer in the house" in run.refused[0][1]
    assert yard.is_sound()


def test_tags_are_chosen_by_lot_and_by_list_each_once(yard: Yard) -> None:
    tags = returned(yard)
    assert station_labels.chosen_tags(f"{show_tag(tags[0])}, {tags[1]}") == tags[:2]
    assert station_labels.chosen_tags(f"]C1{tags[2]}\r\n", "d1") == tags


@pytest.mark.parametrize("text", ["7731/120 A?B#1", "A/B", ".."])
def test_a_text_with_slashes_gets_a_safe_file_and_exact_bars(yard: Yard, text: str) -> None:
    (file,) = station_labels.text_file(text, "roll-102x51").files
    assert "/" not in file.name
    assert not file.name.startswith(".")
    assert file.name.endswith(".pdf")
    assert codes_of(file.content, 203) == [text]
    drawing = station_labels.text_drawing(text, "roll-102x51")
    assert drawing.name.endswith(".svg")
    assert b"<svg" in drawing.content


def test_the_print_command_gets_the_file_once_and_the_labels_are_noted(
    yard: Yard, tmp_path: Path
) -> None:
    tags = returned(yard)
    set_command(yard, *printer(tmp_path, KEEPS))
    run = label_command.print_by_command(tags, **told(yard, "k1"))
    assert run.tags == tuple(tags)
    printed = tmp_path / "printed"
    assert printed.read_bytes().startswith(b"%PDF")
    printed.unlink()
    assert label_command.print_by_command(tags, **told(yard, "k1")) == run
    assert not printed.exists()
    assert yard.core("A0").labels == 1
    assert yard.is_sound()


def test_no_shell_reads_the_print_command(yard: Yard, tmp_path: Path) -> None:
    (tag,) = returned(yard, 1)
    mark = tmp_path / "mark"
    script = "import sys; open(sys.argv[2], 'w').write(sys.argv[3])"
    command = (*printer(tmp_path, script), f"$(touch {mark}); {{file}}")
    set_command(yard, *command)
    label_command.print_by_command([tag], **told(yard))
    assert not mark.exists()
    assert (tmp_path / "printed").read_text().startswith(f"$(touch {mark}); ")


def test_a_failing_print_command_says_what_it_said_and_nothing_is_noted(
    yard: Yard, tmp_path: Path
) -> None:
    (tag,) = returned(yard, 1)
    set_command(yard, *printer(tmp_path, "import sys; sys.exit('no printer is connected')"))
    with pytest.raises(Unavailable, match=r"code 1: “no printer is connected”\."):
        label_command.print_by_command([tag], **told(yard, "k1"))
    set_command(yard, str(tmp_path / "missing"), "{file}")
    with pytest.raises(Unavailable, match="cannot be run: No such file"):
        label_command.print_by_command([tag], **told(yard, "k1"))
    set_command(yard)
    with pytest.raises(NotAllowed, match="No print command is set"):
        label_command.print_by_command([tag], **told(yard, "k1"))
    assert yard.core("A0").labels == 0
    with pytest.raises(NotFound):
        station_labels.sent_run("k1")


def test_a_print_command_that_hangs_is_stopped(tmp_path: Path) -> None:
    command = printer(tmp_path, "import time; time.sleep(60)")
    with pytest.raises(Unavailable, match=r"did not end within 0\.5 seconds"):
        label_command.run_command(command, b"%PDF", 0.5)


def test_the_command_leaves_no_file_behind(yard: Yard, tmp_path: Path) -> None:
    (tag,) = returned(yard, 1)
    script = "import sys; open(sys.argv[2], 'w').write(sys.argv[1])"
    set_command(yard, *printer(tmp_path, script))
    label_command.print_by_command([tag], **told(yard))
    assert not Path((tmp_path / "printed").read_text()).exists()


def test_a_test_label_goes_through_the_command_and_is_noted_nowhere(
    yard: Yard, tmp_path: Path
) -> None:
    set_command(yard, *printer(tmp_path, KEEPS))
    before = yard.events()
    assert label_command.print_test_label() == "roll-50x25"
    assert (tmp_path / "printed").exists()
    assert yard.events() == before


def test_settings_name_every_wrong_field_and_store_only_what_differs(yard: Yard) -> None:
    wrong = station_settings.StationSettings(("lp", "-d"), "roll", "roll-50x25", "a5", -1, 0)
    with pytest.raises(InvalidInput) as caught:
        station_settings.change_settings(wrong, **told(yard))
    assert set(caught.value.fields) == {
        "print_command", "label_stock", "sheet_stock", "paper_size", "hold_days", "idle_minutes",
    }  # fmt: skip
    assert "{file}" in caught.value.fields["print_command"]
    right = station_settings.StationSettings(
        station_settings.command_from_lines(" lp \n\n-o fit={file} \n"),
        "roll-38x13", "letter-30", "letter", 14, 5,
    )  # fmt: skip
    changed = station_settings.change_settings(right, **told(yard, "k1"))
    assert set(changed) == set(caught.value.fields)
    assert station_settings.change_settings(right, **told(yard, "k1")) == changed
    assert station_settings.change_settings(right, **told(yard)) == ()
    assert station_settings.station_settings() == right
    assert right.print_command == ("lp", "-o fit={file}")
    assert yard.is_sound()


def test_a_fault_keeps_its_number_whenever_it_is_asked_for(yard: Yard) -> None:
    with writing(yard.by, yard.now) as writer:
        first = cards.number_for_reason(writer, "GPB", "port")
        second = cards.number_for_reason(writer, "GPB", "plug")
        assert cards.number_for_reason(writer, "GPB", "port") == first != second
    assert cards.number_faults(["GPB"], **told(yard, "k1")) == 4
    assert cards.number_faults(["GPB"], **told(yard, "k1")) == 4
    assert cards.number_faults(["GPB"], **told(yard)) == 0
    with pytest.raises(NotFound, match="XYZ"):
        cards.number_faults(["XYZ"], **told(yard))
    assert yard.is_sound()


def test_the_bench_sheet_holds_orders_and_the_numbered_faults(yard: Yard) -> None:
    cards.number_faults(["GPB"], **told(yard))
    file = cards.bench_sheet(["GPB"])
    read = {
        text for page in printed_pages(file.content, 300, touched=True) for text in read_all(page)
    }
    assert {make_shop_code("order", order) for order in cards.DOCK_ORDERS} <= read
    assert {make_shop_code("reason", number) for number in range(1, 7)} <= read
    with pytest.raises(NotFound, match="XYZ"):
        cards.bench_sheet(["XYZ"])


def test_bins_are_made_once_and_their_cards_read_back(yard: Yard) -> None:
    assert cards.make_places("bin", 1, 20, "Shelf", **told(yard, "k1")) == 20
    assert cards.make_places("bin", 1, 20, "Shelf", **told(yard, "k1")) == 20
    before = yard.events()
    cards.make_places("bin", 5, 5, "Shelf", **told(yard))
    assert yard.events() == before
    assert [place.name for place in cards.card_choices().places][:2] == ["Shelf 1", "Shelf 2"]
    file = cards.cards_of_places("bin", 2, 3)
    read = [
        text for page in printed_pages(file.content, 300, touched=True) for text in read_all(page)
    ]
    assert sorted(read) == [make_shop_code("bin", 2), make_shop_code("bin", 3)]
    with pytest.raises(NotFound, match="basket from 1 to 2"):
        cards.cards_of_places("basket", 1, 2)
    assert yard.is_sound()


@pytest.mark.parametrize(
    ("kind", "first", "last", "field"),
    [("box", 1, 2, "kind"), ("bin", 0, 2, "first"), ("bin", 3, 2, "last"), ("bin", 1, 201, "last")],
)
def test_places_out_of_range_are_refused_by_field(
    yard: Yard, kind: str, first: int, last: int, field: str
) -> None:
    with pytest.raises(InvalidInput) as caught:
        cards.make_places(kind, first, last, "", **told(yard))
    assert list(caught.value.fields) == [field]


def test_badges_are_printed_of_those_who_have_one(yard: Yard) -> None:
    with pytest.raises(InvalidInput, match="Nobody has a badge"):
        cards.badges([])
    with writing(yard.by, yard.now) as writer:
        for name, badge in (("Nan Corrie", 7), ("Ove Lind", 0)):
            person = {"key": name, "name": name, "role": "clerk", "badge": badge}
            writer.event("person", name, "set", person)
    choices = cards.card_choices()
    assert (choices.with_badge, choices.without_badge) == (("Nan Corrie",), ("Ove Lind",))
    assert codes_of(cards.badges([]).content) == [make_shop_code("badge", 7)]
    with pytest.raises(InvalidInput, match="Ove Lind has no badge"):
        cards.badges(["Ove Lind"])
    with pytest.raises(NotFound, match="Ulf"):
        cards.badges(["Ulf"])


def test_a_print_command_runs_without_our_input(tmp_path: Path) -> None:
    command = printer(tmp_path, "import sys; sys.exit(0 if not sys.stdin.read() else 3)")
    label_command.run_command(command, b"%PDF")
