"""The plan editor as a browser without a window sees it."""

from __future__ import annotations

import re
from html import unescape
from io import BytesIO
from itertools import count

import pytest
from core_yard import Yard
from databases import TestDatabase
from station_client import StationClient, words
from werkzeug.test import TestResponse

from coretrack.actions import plan_editing
from coretrack.web.plan_forms import limits_hint

keys = (f"plan-page-{number}" for number in count())


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    yard = Yard()
    yard.set_up()
    return yard


@pytest.fixture
def owner(yard: Yard) -> StationClient:
    return StationClient("owner")


def fields(page: str) -> dict[str, str]:
    """Return the plan's form as it would be sent."""
    form = page[page.index('id="plan"') : page.index("<datalist")]
    found: dict[str, str] = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name = re.search(r'name="([^"]+)"', tag)
        value = re.search(r'value="([^"]*)"', tag)
        if name and ('type="checkbox"' not in tag or "checked" in tag):
            found[name[1]] = unescape(value[1]) if value else ""
    for name, options in re.findall(r'<select[^>]* name="([^"]+)"[^>]*>(.*?)</select>', form, re.S):
        chosen = re.search(r"<option[^>]* selected>([^<]*)<", options)
        found[name] = unescape(chosen[1]) if chosen else ""
    return found


def form_of(owner: StationClient, code: str = "GPB") -> dict[str, str]:
    return fields(owner.get("/plans/plan", code=code).text)


def send(owner: StationClient, typed: dict[str, str], act: str, code: str = "GPB") -> TestResponse:
    told = {**typed, "act": act, "key": next(keys), "csrf_token": owner.token()}
    return owner.client.post("/plans/plan", data=told, query_string={"code": code})


def value(page: TestResponse, name: str) -> str:
    return fields(page.text)[name]


def test_the_list_names_every_family_and_what_is_frozen(owner: StationClient, yard: Yard) -> None:
    yard.sell()
    yard.bring_back("A1")
    yard.measure("A1")
    page = owner.text("/plans/")
    assert "CLB Clutch bracket 1 1 0 1 not used yet" in page
    assert "GPB Gear pump body 1 5 4 6 frozen, 1 core GPB.toml" in page


def test_saving_the_form_untouched_changes_nothing(owner: StationClient, yard: Yard) -> None:
    events = yard.events()
    answer = send(owner, form_of(owner), "save")
    assert answer.status_code == 303
    assert yard.events() == events


def test_the_form_shows_what_limits_mean(owner: StationClient) -> None:
    page = send(owner, {**form_of(owner), "c0-usable": "24 H7"}, "look")
    assert "24 mm nominal: 24.000 to 24.021 mm; the limits of class H7" in words(page)
    assert "check Gear bore: usable was 24..24.04 mm" in words(page).replace("Check", "check")
    said = owner.get("/plans/limits", text="17 H7", unit="mm", nominal="").get_json()
    assert said == "17 mm nominal: 17.000 to 17.018 mm; the limits of class H7"
    for text, unit, flagged in (
        ("17 Q9", "mm", "the tolerance class 'Q9' is not in the tables"),
        ("6.00..6.05 mm (0.2362..0.2482 in)", "mm", "one of the two is misprinted"),
        ("17 H7", "", "give the unit first"),
    ):
        live = owner.get("/plans/limits", text=text, unit=unit, nominal="").get_json()
        assert live.startswith("⚠ ")
        assert flagged in live
    assert owner.get("/plans/limits", text=" ", unit="mm", nominal="").get_json() == ""


def test_hardness_is_also_said_in_the_other_scale_with_the_measured_one_in_brackets() -> None:
    """ASTM E140, table 1: 55 HRC is 595 HV, 60 HRC is 697 HV; outside 20 to 68 HRC nothing."""
    assert limits_hint("55..60", "HRC", "") == (
        "55 to 60 HRC; of steel about 595 HV (55 HRC) to 697 HV (60 HRC)"
    )
    assert limits_hint(">= 513", "HV", "").endswith("; of steel about 50 HRC (513 HV)")
    assert limits_hint("<= 70", "HRC", "") == "at most 70 HRC"


def test_what_is_wrong_is_linked_to_its_field(owner: StationClient) -> None:
    form = {**form_of(owner), "c0-usable": "6..5", "c0-b0-operation": "polish"}
    page = send(owner, form, "look").text
    assert '<a href="#c0-usable">checks bore, usable</a>' in page
    assert '<a href="#c0-b0-operation">checks bore, rework</a>' in page


def test_a_wrong_form_comes_back_with_all_that_was_typed(owner: StationClient, yard: Yard) -> None:
    events = yard.events()
    typed = {
        **form_of(owner),
        "c0-usable": "24.000..24.040 mm (0.9449..0.9564 in)",
        "c0-b0-limits": "rubbish",
        "o0-minutes": "ten",
        "f1-value": "a lot",
        "c4-look_reworks": "C: polish",
        "name": "<b>Pump</b>",
    }
    answer = send(owner, typed, "save")
    assert answer.status_code == 422
    back = fields(answer.text)
    assert {name: back[name] for name in typed if name not in ("key", "csrf_token")} == {
        name: text for name, text in typed.items() if name not in ("key", "csrf_token")
    }
    for name in ("c0-usable", "c0-b0-limits", "o0-minutes", "f1-value"):
        assert f'id="{name}-wrong"' in answer.text
        assert re.search(rf'id="{name}"[^>]* aria-invalid="true"', answer.text)
    assert "one of the two is misprinted" in words(answer)
    assert 'there is no operation "polish"' in words(answer)
    assert "<b>Pump</b>" not in answer.text
    assert yard.events() == events


def test_rows_are_added_and_taken_out_without_storing(owner: StationClient, yard: Yard) -> None:
    events = yard.events()
    typed = form_of(owner)
    page = send(owner, {**typed, "c0-name": "Typed meanwhile"}, "add:c")
    assert value(page, "c0-name") == "Typed meanwhile"
    assert (value(page, "c5-kind"), value(page, "c5-order")) == ("dimension", "6")
    page = send(owner, fields(page.text), "band:5")
    assert value(page, "c5-b0-limits") == ""
    page = send(owner, fields(page.text), "drop:c:0")
    assert value(page, "c0-code") == "face"
    page = send(owner, fields(page.text), "drop:o:99")
    assert value(page, "o3-code") == "clean"
    assert yard.events() == events


def test_another_kind_brings_its_fields_and_keeps_the_others(owner: StationClient) -> None:
    page = send(owner, {**form_of(owner), "c0-kind": "crack"}, "look")
    assert 'id="c0-method"' in page.text
    assert 'id="c0-usable"' not in page.text
    back = send(owner, {**fields(page.text), "c0-kind": "dimension"}, "look")
    assert (value(back, "c0-usable"), value(back, "c0-b0-operation")) == ("24.000..24.040", "hone")


def test_a_whole_new_family_is_made_by_the_form(owner: StationClient) -> None:
    page = owner.get("/plans/plan")
    typed = {
        **fields(page.text),
        **{"code": "VLV", "name": "Valve block", "mass_g": "900", "metal": "steel"},
        **{"c0-code": "seat", "c0-name": "Seat", "c0-usable": "17 H7", "c0-resolution": "0,001"},
    }
    answer = send(owner, typed, "save", code="")
    assert answer.status_code == 303
    assert answer.location.endswith("/plans/plan?code=VLV")
    seat = plan_editing.stored_plan("VLV", 1).check("seat")
    assert seat.usable is not None
    assert (seat.usable.lower, seat.usable.upper) == (17_000_000, 17_018_000)
    assert seat.resolution == 1_000
    again = send(owner, {**typed, "name": "Another"}, "save", code="")
    assert again.status_code == 422
    assert 'id="code-wrong"' in again.text


def test_the_second_editor_keeps_what_was_typed_and_can_save_again(owner: StationClient) -> None:
    one, two = form_of(owner), form_of(owner)
    send(owner, {**one, "c0-name": "Gear bores"}, "save")
    late = send(owner, {**two, "c1-name": "Lid face"}, "save")
    assert late.status_code == 409
    assert value(late, "c1-name") == "Lid face"
    assert "version 2 now" in words(late)
    assert send(owner, fields(late.text), "save").status_code == 303


def test_versions_say_what_changed_and_can_be_read(owner: StationClient) -> None:
    send(owner, {**form_of(owner), "c0-readings": "4"}, "save")
    page = owner.text("/plans/plan", code="GPB")
    assert "Check Gear bore: readings was 3, is now 4." in page
    assert "4, judged by each" in owner.text("/plans/version", code="GPB", number="2")
    assert "3, judged by each" in owner.text("/plans/version", code="GPB", number="1")
    for number in ("3", "0", "x", "²", "9" * 30):
        assert owner.get("/plans/version", code="GPB", number=number).status_code == 404


def test_a_file_goes_out_and_comes_in_again(owner: StationClient, yard: Yard) -> None:
    sent = owner.get("/plans/file.toml", code="GPB")
    assert sent.headers["Content-Disposition"] == 'attachment; filename="GPB.toml"'
    changed = sent.text.replace("24.000..24.040", "24.000..24.030").encode()
    looked = owner.post(
        "/plans/file",
        {"file": (BytesIO(changed), "plan.toml"), "act": "look"},
        content_type="multipart/form-data",
    )
    assert "usable was 24..24.04 mm, is now 24..24.03 mm" in words(looked)
    text = unescape(re.findall(r"<textarea[^>]*>(.*?)</textarea>", looked.text, re.S)[0])
    assert text == changed.decode()
    stored = owner.post("/plans/file", {"text": text, "act": "save", "key": next(keys)})
    assert stored.status_code == 303
    assert plan_editing.family_view("GPB").plans[0].number == 2


def test_a_wrong_file_keeps_its_text_and_names_each_place(owner: StationClient) -> None:
    text = owner.get("/plans/file.toml", code="CLB").text.replace("12.00..12.05", "12.05..12.00")
    for act in ("look", "save"):
        answer = owner.post("/plans/file", {"text": text, "act": act, "key": next(keys)})
        assert answer.status_code == 422
        assert "checks pin, usable" in words(answer)
        assert "12.05..12.00" in answer.text


def test_the_advised_order_comes_into_the_form_and_is_not_stored(
    owner: StationClient, yard: Yard
) -> None:
    assert "No advice yet" in owner.text("/plans/order", code="GPB")
    wrong = owner.get("/plans/order", code="GPB", **{"s-bore": "soon"})
    assert wrong.status_code == 422
    assert 'value="soon"' in wrong.text
    page = owner.get("/plans/plan", code="GPB", order=["crack", "bore"])
    assert [fields(page.text)[f"c{n}-code"] for n in range(5)] == [
        *("crack", "bore", "face", "thread", "look"),
    ]
    assert len(plan_editing.family_view("GPB").plans) == 1


@pytest.mark.parametrize("role", ["clerk", "inspector"])
def test_plans_are_the_owners(yard: Yard, role: str) -> None:
    other = StationClient(role)
    for address in ("/plans/", "/plans/plan?code=GPB", "/plans/file", "/plans/order?code=GPB"):
        assert other.get(address).status_code == 403
    assert "Plans" not in re.findall(r"<nav.*?</nav>", other.get("/cores/").text, re.S)[0]


def test_a_family_that_is_not_there_is_not_found(owner: StationClient) -> None:
    for address in ("/plans/plan", "/plans/file.toml", "/plans/order"):
        assert owner.get(address, code="nope/../x").status_code == 404
