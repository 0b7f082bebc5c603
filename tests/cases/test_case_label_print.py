"""Awkward labels: digits that get lost, letters that bars cannot hold, used sheets, file names."""

from __future__ import annotations

import json
import string
import subprocess
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import zxingcpp
from label_reading import bar_runs, printed_pages, read_all, read_middles
from PIL import Image
from tools import needs_tool

if TYPE_CHECKING:
    from conftest import CounterShop

GIVEN = json.loads((Path(__file__).parent / "files" / "scans_open.json").read_text("utf-8"))
LONG_PART = "7731-120-123-REV-C-LONG-PART-NUMBER-30"


def printed(
    shop: CounterShop, texts: Sequence[str], stock: str, name: str = "l.pdf", *options: str
) -> tuple[Any, list[Path]]:
    """Print labels of texts; return the JSON answer and the files."""
    words = [f"--text={text}" for text in texts]
    out = shop.folder / name
    done = shop.run(
        "labels", "--json", *words, "--stock", stock, "--out", out, *options, exit_code=None
    )
    answer = json.loads(done.stdout)
    return answer, [Path(file) for file in answer["files"]]


def read_back(path: Path) -> list[str]:
    """Return what a reader sees on a label file, at both usual print heads."""
    if path.suffix == ".png":
        with Image.open(path) as picture:
            return read_all(picture.convert("L"))
    at_203, at_300 = (
        [
            text
            for page in printed_pages(path.read_bytes(), dpi, touched=True)
            for text in read_all(page)
        ]
        for dpi in (203, 300)
    )
    assert at_203 == at_300
    return at_300


def words_of(path: Path) -> str:
    """Return the text that stands on a PDF, blanks aside."""
    told = subprocess.run(
        [needs_tool("pdftotext"), "-layout", path, "-"], capture_output=True, text=True, check=True
    )
    return "".join(told.stdout.split())


def refusal(answer: Any) -> str:
    """Return why the only label asked for was refused."""
    [refused] = answer["refused"]
    assert (answer["printed"], answer["files"]) == (0, [])
    return str(refused["why"])


EXACT = (
    *("B504", "P7731", "00420", "004206", "B504K1", "A1", "7", "99", "9", "999", "99A99"),
    *(*GIVEN["AW-036"][:3], *GIVEN["AW-038"], "1A2b3C", "A9999", "12", "123", "9900", "0099"),
)


@pytest.mark.parametrize("text", EXACT)
@pytest.mark.parametrize(("stock", "ending"), [("roll-102x51", "png"), ("letter-30", "pdf")])
def test_aw_020_aw_022_aw_036_a_label_reads_back_as_exactly_its_text(
    shop: CounterShop, text: str, stock: str, ending: str
) -> None:
    answer, [file] = printed(shop, [text], stock, f"l.{ending}")
    assert (answer["printed"], answer["refused"]) == (1, [])
    assert read_back(file) == [text]


def test_aw_020_aw_022_every_symbol_is_code_128_whatever_the_text_looks_like(
    shop: CounterShop,
) -> None:
    _, files = printed(shop, ["00420", "004206", "B504", "A00013", "*B504*"], "roll-50x25", "l.png")
    for file in files:
        with Image.open(file) as picture:
            [symbol] = zxingcpp.read_barcodes(picture.convert("L"))
        assert symbol.format == zxingcpp.BarcodeFormat.Code128


def test_aw_036_nines_of_every_length_keep_all_their_nines(shop: CounterShop) -> None:
    nines = ["9" * length for length in (1, 2, 3, 4, 5, 8, 14, 20, 21, 40, 59)]
    answer, files = printed(shop, nines, "roll-102x51", "l.png")
    assert answer["refused"] == []
    assert [read_back(file) for file in files] == [[text] for text in nines]


def test_aw_036_every_sign_of_the_keyboard_survives_in_bars(shop: CounterShop) -> None:
    signs = string.digits + string.ascii_letters + string.punctuation
    texts = [signs[at : at + 10] for at in range(0, len(signs), 10)]
    texts += [f"{sign}9{sign}" for sign in string.punctuation]
    answer, files = printed(shop, texts, "roll-102x51", "l.png")
    assert answer["refused"] == []
    assert [read_back(file) for file in files] == [[text] for text in texts]


def test_aw_036_the_tags_of_a_lot_read_back_and_open_their_cores(shop: CounterShop) -> None:
    out = shop.folder / "lot.pdf"
    shop.run("labels", "--lot", "LOT-1", "--stock", "letter-30", "--out", out)
    tags = read_back(out)
    assert tags == sorted(shop.tags())
    for tag in tags:
        assert shop.scan(tag + "\r")["tag"] == tag


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("text", [*GIVEN["AW-038"], "123456789012345678"])
def test_aw_038_the_blank_margins_of_ten_modules_stay_empty(
    shop: CounterShop, text: str, dpi: int
) -> None:
    _, [file] = printed(shop, [text], "roll-50x25", "l.png", f"--dpi={dpi}")
    assert read_back(file) == [text]
    with Image.open(file) as picture:
        left, *bars, right = bar_runs(picture.convert("L"))
        black = picture.convert("L").point(lambda grey: 255 if grey < 128 else 0).getbbox()
        assert black is not None
        # The text under the bars keeps inside the picture.
        assert black[0] > 0
        assert black[2] < picture.width
    assert min(left, right) >= 10 * min(bars)


def test_aw_038_bars_that_do_not_fit_are_refused_with_what_would(shop: CounterShop) -> None:
    answer, _ = printed(shop, [LONG_PART], "roll-50x25", "l.png")
    why = refusal(answer)
    assert LONG_PART in why
    assert "room for 24 digits or 12 letters" in why
    answer, _ = printed(shop, [GIVEN["AW-038"][1]], "roll-38x13", "l.png")
    assert "It fits on" in refusal(answer)
    assert "letter-30" in refusal(answer)


@pytest.mark.parametrize("stock", ["letter-30", "a4-24", "roll-50x25"])
def test_aw_038_a_long_part_number_stands_whole_in_the_small_text(
    shop: CounterShop, stock: str
) -> None:
    shop.receive(["N5001"], "--lot", "LOT-5", number=LONG_PART)
    out = shop.folder / "long.pdf"
    shop.run("labels", "--lot", "LOT-5", "--stock", stock, "--out", out)
    assert LONG_PART in words_of(out)
    assert read_back(out) == [shop.tag_of("N5001")]


def test_aw_040_a_sheet_asks_for_its_true_size_and_carries_a_gauge(shop: CounterShop) -> None:
    out = shop.folder / "sheet.pdf"
    shop.run("labels", "--lot", "LOT-1", "--stock", "letter-30", "--out", out)
    import pypdf

    preferences = pypdf.PdfReader(out).trailer["/Root"]["/ViewerPreferences"]
    assert preferences["/PrintScaling"] == "/None"
    assert "Thislinemustmeasure50mm" in words_of(out)


@pytest.mark.parametrize("share", [1.0, 0.97, 0.94])
@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("stock", ["letter-30", "a4-24"])
def test_aw_040_a_sheet_that_the_dialog_shrank_still_reads(
    shop: CounterShop, stock: str, dpi: int, share: float
) -> None:
    out = shop.folder / "sheet.pdf"
    shop.run("labels", "--lot", "LOT-1", "--stock", stock, "--out", out)
    pages = printed_pages(out.read_bytes(), dpi * share, touched=False)
    assert sorted(text for page in pages for text in read_all(page)) == sorted(shop.tags())


@pytest.mark.parametrize("first", [1, 8, 29, 30])
def test_aw_042_a_used_sheet_begins_at_its_first_free_place(shop: CounterShop, first: int) -> None:
    shop.receive([f"N6{place:03d}" for place in range(13)], "--lot", "LOT-6")
    out = shop.folder / "sheet.pdf"
    answer = shop.json(
        *("labels", "--lot", "LOT-1", "--lot", "LOT-6", "--stock", "letter-30"),
        *("--first", str(first), "--out", out),
    )
    tags = shop.tags()
    assert answer["printed"] == len(tags) == 25
    places = []
    for number, page in enumerate(printed_pages(out.read_bytes(), 300, touched=True)):
        for text, across, down in read_middles(page, 300):
            column, row = int((across - 4.76) // 69.85), int((down - 12.7) // 25.4)
            places.append((number * 30 + row * 3 + column + 1, text))
    wanted = [(first + n, tag) for n, tag in enumerate(tags)]
    assert sorted(places) == wanted
    assert answer["next_free"] == (first + 24) % 30 + 1


@pytest.mark.parametrize("first", ["31", "0", "-1", "100"])
def test_aw_042_a_place_that_the_sheet_does_not_have_is_refused(
    shop: CounterShop, first: str
) -> None:
    out = shop.folder / "sheet.pdf"
    done = shop.run(
        *("labels", "--lot", "LOT-1", "--stock", "letter-30", f"--first={first}", "--out", out),
        exit_code=1,
    )
    assert "1 to 30" in done.output
    assert not out.exists()


@pytest.mark.parametrize(
    ("text", "place", "name"),
    [
        (GIVEN["AW-044"][0], 6, "CYRILLIC CAPITAL LETTER VE"),
        ("Β504", 1, "GREEK CAPITAL LETTER BETA"),
        ("B５04", 2, "FULLWIDTH DIGIT FIVE"),
        ("MY–200", 3, "EN DASH"),
        ("A\u200bB", 2, "ZERO WIDTH SPACE"),
        ("A\u00a0B", 2, "NO-BREAK SPACE"),
        ("💥7", 1, "COLLISION SYMBOL"),
        ("A\tB", 2, "control character U+0009"),
    ],
)
def test_aw_044_one_sign_that_bars_cannot_hold_does_not_stop_the_sheet(
    shop: CounterShop, text: str, place: int, name: str
) -> None:
    answer, [file] = printed(shop, ["B504", text, "P7731"], "letter-30")
    [refused] = answer["refused"]
    assert refused["text"] == text
    assert f"sign {place} is" in refused["why"]
    assert name in refused["why"]
    assert answer["printed"] == 2
    assert read_back(file) == ["B504", "P7731"]


@pytest.mark.parametrize("number", [GIVEN["AW-044"][0], "Β504", "B５04", "B504\u0301"])
def test_aw_044_such_a_number_is_refused_where_it_is_entered(
    shop: CounterShop, number: str
) -> None:
    for column in ("number", "serial"):
        cells = {"number": "B504", "serial": "N7001"} | {column: number}
        path = shop.file("one.csv", f"number,serial\n{cells['number']},{cells['serial']}\n")
        answer = shop.json("intake", path, "--source", "MERE", "--lot", "L7", "--price", "1.00")
        [reject] = answer["rejected"]
        assert (answer["stored"], reject["row"], reject["column"]) == (0, 2, column)
        assert "ign " in reject["why"]


@pytest.mark.parametrize("text", [*GIVEN["AW-046"], "Ñ7", "Maß", "½", "µm", "é1"])
def test_aw_046_accented_letters_are_refused_by_name(shop: CounterShop, text: str) -> None:
    for stock, name in (("letter-30", "l.pdf"), ("roll-50x25", "l.png")):
        answer, _ = printed(shop, [text], stock, name)
        assert "cannot stand in bars: sign" in refusal(answer)
        assert "LATIN" in refusal(answer) or text in ("½", "µm")


@pytest.mark.parametrize("text", [*GIVEN["AW-048"], "A/B/C", "a?b#c%2F&d", "%2e%2e", "~", "CON"])
def test_aw_048_a_serial_that_looks_like_a_path_opens_its_core_and_prints(
    shop: CounterShop, text: str
) -> None:
    if text not in GIVEN["AW-048"]:
        shop.receive([text], "--lot", "LOT-8")
    tag = shop.tag_of(text)
    meaning = shop.scan(text)
    assert (meaning["kind"], meaning["tag"], meaning["serial"]) == ("serial", tag, text)
    _, [file] = printed(shop, [text], "roll-102x51", "l.png")
    assert read_back(file) == [text]


def test_aw_048_label_files_get_safe_names_and_never_overwrite_one_another(
    shop: CounterShop,
) -> None:
    texts = [*GIVEN["AW-048"], "A-B", "A B", "a/b", "con", "nul.", "a:b", "...", "C:\\x", "x" * 12]
    answer, files = printed(shop, texts, "roll-102x51", "many.png")
    assert answer["refused"] == []
    names = [file.name for file in files]
    assert len({name.casefold() for name in names}) == len(texts)
    assert {file.parent for file in files} == {shop.folder}
    for name, file, text in zip(names, files, texts, strict=True):
        assert set(name) <= set(string.ascii_letters + string.digits + "._-")
        assert not name.startswith((".", "-"))
        assert read_back(file) == [text]


def test_a_tag_may_be_scanned_to_print_its_label_and_a_stranger_is_refused(
    shop: CounterShop,
) -> None:
    tag = shop.tags()[2]
    out = shop.folder / "one.png"
    for told in (tag, f"{tag[:4]} {tag[4:8]} {tag[8:]}", f"]C0{tag}\r", f"\ufeff{tag}"):
        shop.run("labels", "--tag", told, "--stock", "roll-50x25", "--out", out)
        assert read_back(out) == [tag]
    for stranger in ("1000000453", "B504", "", f"X{tag}"):
        done = shop.run(
            *("labels", "--tag", stranger, "--stock", "roll-50x25", "--out", out), exit_code=1
        )
        assert "There is no core with tag" in done.output


def test_a_roll_label_in_pdf_reads_like_its_picture(shop: CounterShop) -> None:
    _, [pdf] = printed(shop, ["999999"], "roll-50x25", "l.pdf")
    assert read_back(pdf) == ["999999"]
    picture = printed_pages(pdf.read_bytes(), 203, touched=True)[0]
    buffer = BytesIO()
    picture.save(buffer, "PNG")
    assert read_all(Image.open(buffer)) == ["999999"]
