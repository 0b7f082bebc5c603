"""Labels with several fields: GS1 element strings and format 06 envelopes, whole and damaged."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from conftest import CounterShop

GIVEN = json.loads((Path(__file__).parent / "files" / "scans_open.json").read_text("utf-8"))
GTIN = "09506000134352"
GS, RS, EOT = "\x1d", "\x1e", "\x04"
WHOLE = {"kind": "gs1", "gtin": GTIN, "serial": "AB12", "lot": "LOT9"}
READ_RIGHT = f"(01){GTIN}(21)AB12(10)LOT9"


def facts(meaning: dict[str, dict[str, object]]) -> dict[str, object]:
    """Return the facts of a label that a clerk would have to copy off it."""
    scan = meaning["scan"]
    return {name: scan[name] for name in ("kind", "gtin", "serial", "lot")}


def fields(meaning: dict[str, dict[str, list[dict[str, str]]]]) -> dict[str, str]:
    """Return a label's fields by identifier."""
    return {field["identifier"]: field["value"] for field in meaning["scan"]["fields"]}


@pytest.mark.parametrize(
    "arrived",
    [
        *GIVEN["AW-006"],
        *(f"{mark}01{GTIN}21AB12{GS}10LOT9" for mark in ("]Q3", "]e0", "]J1", GS, f"]C1{GS}")),
        f"01{GTIN}21AB12{GS}10LOT9{GS}\r",
        f"]d210LOT9{GS}01{GTIN}21AB12",
        f"[)>{RS}05{GS}01{GTIN}{GS}21AB12{GS}10LOT9{RS}{EOT}",
    ],
)
def test_aw_006_marked_gs1_data_gives_gtin_serial_and_lot(
    scanning: CounterShop, arrived: str
) -> None:
    meaning = scanning.scan(arrived)
    assert facts(meaning) == WHOLE
    assert meaning["number"] == GTIN
    assert meaning["serials"] == [{"serial": "AB12", "tag": scanning.tag_of("AB12")}]
    assert meaning["scan"]["raw"] == arrived


@pytest.mark.parametrize(
    ("arrived", "wanted"),
    [
        (f"]C101{GTIN}17260131 10LOT9".replace(" ", ""), {"17": "2026-01-31", "10": "LOT9"}),
        (f"]C111250230{GS}", None),
        (f"]C1240ADD1{GS}250SEC9{GS}21S5", {"240": "ADD1", "250": "SEC9", "21": "S5"}),
        (f"]C12417731120123{GS}21S5", {"241": "7731120123", "21": "S5"}),
        (f"]C13710{GS}10L1", {"37": "10", "10": "L1"}),
        (f"]C13103001250{GS}21S5", {"3103": "001250", "21": "S5"}),
        (f"]C18008260131120000{GS}21A", {"8008": "2026-01-31", "21": "A"}),
        (f"]C18004ASSET1{GS}", {"8004": "ASSET1"}),
        (f"]C101{GTIN}11260101{GS}21AB12{GS}10LOT9{GS}3705", {"11": "2026-01-01", "37": "05"}),
    ],
)
def test_aw_006_other_fields_keep_their_own_names_and_none_becomes_a_serial(
    scanning: CounterShop, arrived: str, wanted: dict[str, str] | None
) -> None:
    meaning = scanning.scan(arrived)
    if wanted is None:
        assert meaning["kind"] == "refused"
        assert "250230 is no day" in meaning["sentence"]
        return
    found = fields(meaning)
    assert wanted.items() <= found.items()
    assert meaning["scan"]["serial"] == found.get("21")


def test_aw_006_a_wrong_check_digit_is_refused_with_the_right_one(scanning: CounterShop) -> None:
    for arrived in (f"]C1{'01'}09506000134353{'21AB12'}", "(01)09506000134353(21)AB12"):
        meaning = scanning.scan(arrived)
        assert meaning["kind"] == "refused"
        assert "it would be 2" in meaning["sentence"]


def test_aw_008_a_lost_separator_is_asked_about_and_the_raw_text_kept(
    scanning: CounterShop,
) -> None:
    run_on, unreadable = GIVEN["AW-008"]
    meaning = scanning.scan(run_on)
    assert (meaning["kind"], meaning["number"], meaning["serial"]) == ("choose", None, None)
    assert "No separator was seen" in meaning["sentence"]
    assert [c["text"] for c in meaning["candidates"]] == [
        READ_RIGHT,
        f"(01){GTIN}(21)AB1210LOT9",
    ]
    second = scanning.scan(unreadable)
    assert second["kind"] == "refused"
    assert "'693570007182' begins no known field" in second["sentence"]
    assert [m["scan"]["raw"] for m in (meaning, second)] == [run_on, unreadable]


@pytest.mark.parametrize(
    "arrived",
    [
        f"01{GTIN}10LOT921AB12",
        f"01{GTIN}21AB1217260131",
        f"01{GTIN}21AB12240ADD1",
        f"]C101{GTIN}21AB1210LOT9",
        f"01{GTIN}10LOT9{'37'}5",
    ],
)
def test_aw_008_whichever_field_ran_on_the_clerk_is_asked(
    scanning: CounterShop, arrived: str
) -> None:
    meaning = scanning.scan(arrived)
    assert meaning["kind"] == "choose"
    assert len(meaning["candidates"]) > 1
    assert meaning["candidates"][-1]["why"] == "as it arrived"


def test_aw_008_a_choice_that_is_offered_can_be_scanned_in_its_turn(
    scanning: CounterShop,
) -> None:
    meaning = scanning.scan(GIVEN["AW-008"][0])
    assert facts(scanning.scan(meaning["candidates"][0]["text"])) == WHOLE


def test_aw_030_the_three_bags_of_the_report(scanning: CounterShop) -> None:
    whole, defective, stray = GIVEN["AW-030"]
    for arrived in (whole, defective):
        meaning = scanning.scan(arrived)
        assert meaning["number"] == "7731120123"
        assert facts(meaning) == {
            "kind": "format 06",
            "gtin": None,
            "serial": None,
            "lot": "317010",
        }
        assert "no serial" in meaning["message"]
    assert len(scanning.scan(defective)["scan"]["notes"]) == 2
    meaning = scanning.scan(stray)
    assert (meaning["number"], meaning["serial"]) == ("7731120123", "AB12")
    assert "'>'" in meaning["scan"]["notes"][0]


@pytest.mark.parametrize(
    "arrived",
    [
        f"]d1[)>{RS}06{GS}1P7731120123{GS}SAB12{RS}{EOT}",
        f"[)>{RS}06{GS}P7731120123{GS}SAB12{RS}{EOT}\r",
        f"[)>{RS}06{GS}1p7731120123{GS}sAB12{RS}{EOT}",
        f"[)>{RS}06{GS}17V12345{GS}1P7731120123{GS}SAB12{GS}4LDE{GS}16D20260131{RS}{EOT}",
        f"[)>{RS}06{GS}1P7731120123{RS}06{GS}SAB12{RS}{EOT}",
        "[)>{RS}06{GS}1P7731120123{GS}SAB12{RS}{EOT}",
        "[)>␞06␝1P7731120123␝SAB12␞␄",
        "[)><RS>06<GS>1P7731120123<GS>SAB12<RS><EOT>",
    ],
)
def test_aw_030_other_envelopes_give_part_and_serial(scanning: CounterShop, arrived: str) -> None:
    meaning = scanning.scan(arrived)
    assert (meaning["number"], meaning["serial"]) == ("7731120123", "AB12")


def test_aw_030_no_other_identifier_is_taken_for_a_serial(scanning: CounterShop) -> None:
    for identifier in ("T", "1T", "25S", "2S", "4S", "36S", "37S", "K", "Q", "V", "18V", "30T"):
        meaning = scanning.scan(f"[)>{RS}06{GS}1P7731120123{GS}{identifier}AB12{RS}{EOT}")
        assert (meaning["number"], meaning["serial"]) == ("7731120123", None), identifier
        assert "no serial" in meaning["message"]


@pytest.mark.parametrize(
    ("arrived", "why"),
    [
        ("[)>061P7731120123SAB12", "separators between the fields are missing"),
        (f"[)>{RS}12{GS}PNR 7731{RS}{EOT}", "format '12'"),
        ("[)>", "breaks off"),
        (f"[)>{RS}06{GS}{RS}{EOT}", "holds no field"),
        (f"ü=:{RS}06{GS}1P7731120123{GS}SAB12{RS}{EOT}", "this computer is set to German"),
    ],
)
def test_aw_030_what_cannot_be_read_is_refused_with_its_reason(
    scanning: CounterShop, arrived: str, why: str
) -> None:
    meaning = scanning.scan(arrived)
    assert (meaning["kind"], meaning["number"]) == ("refused", None)
    assert why in meaning["sentence"]


def test_aw_030_two_part_numbers_on_one_label_are_a_choice(scanning: CounterShop) -> None:
    meaning = scanning.scan(f"[)>{RS}06{GS}1P7731120123{GS}1PB504{RS}{EOT}")
    assert meaning["kind"] == "choose"
    assert [c["text"] for c in meaning["candidates"]] == ["7731120123", "B504"]


@pytest.mark.parametrize(
    "typed",
    [
        GIVEN["AW-032"][0],
        f"(01) {GTIN} (21) AB12 (10) LOT9",
        f"[01]{GTIN}[21]AB12[10]LOT9",
        f"(10)LOT9(21)AB12(01){GTIN}",
        f"(01){GTIN}\u00a0(21)AB12\u200b(10)LOT9\r",
    ],
)
def test_aw_032_the_printed_form_is_read_when_it_is_typed(
    scanning: CounterShop, typed: str
) -> None:
    assert facts(scanning.scan(typed)) == WHOLE


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("(01)9506000134352(21)AB12", "cannot stand behind the GTIN"),
        ("(01)09506000134352(21)", "with an identifier in each bracket"),
        ("(05)12", "no identifier (05)"),
    ],
)
def test_aw_032_a_printed_form_with_a_slip_is_refused_with_its_reason(
    scanning: CounterShop, typed: str, why: str
) -> None:
    meaning = scanning.scan(typed)
    assert meaning["kind"] == "refused"
    assert why in meaning["sentence"]


SEPARATORS = ("|", "~", "^", "#", "@", "<GS>", "{GS}", "[GS]", "^]", "\\x1d", "\\F", "<FNC1>", "␝")


@pytest.mark.parametrize("sign", SEPARATORS)
def test_aw_034_a_stand_in_for_the_separator_is_asked_about_until_it_is_set(
    scanning: CounterShop, sign: str
) -> None:
    arrived = f"01{GTIN}21AB12{sign}10LOT9"
    meaning = scanning.scan(arrived)
    assert (meaning["kind"], meaning["serial"], meaning["scan"]["serial"]) == ("choose", None, None)
    assert [c["text"] for c in meaning["candidates"]] == [READ_RIGHT]
    assert sign in meaning["sentence"]
    assert facts(scanning.scan(arrived, "--separator", sign)) == WHOLE


def test_aw_034_a_set_separator_serves_every_label_and_leaves_part_numbers_alone(
    scanning: CounterShop,
) -> None:
    assert facts(scanning.scan(f"01{GTIN}21AB12{GS}10LOT9", "--separator", "|")) == WHOLE
    for arrived in ("[)>|06|1P7731120123|SAB12|", "[)>06|1P7731120123|SAB12"):
        assert scanning.scan(arrived)["kind"] == "choose"
        assert scanning.scan(arrived, "--separator", "|")["serial"] == "AB12"
    assert scanning.scan("B504", "--separator", "|")["number"] == "B504"
    assert scanning.scan("7731|120", "--separator", "|")["kind"] == "unknown"


@pytest.mark.parametrize("sign", ["A", "1", "-", "/"])
def test_aw_034_a_sign_that_numbers_hold_cannot_be_the_separator(
    scanning: CounterShop, sign: str
) -> None:
    done = scanning.run("scan", "B504", "--separator", sign, exit_code=1)
    assert f"'{sign}' cannot be the separator" in done.output
