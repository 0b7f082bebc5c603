"""File names for ids with slashes, dots and device names."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.paper.file_names import safe_file_name

DEVICES = {
    "con",
    "prn",
    "aux",
    "nul",
    *(f"{port}{n}" for port in ("com", "lpt") for n in range(10)),
}


@pytest.mark.parametrize(
    ("text", "begins"),
    [
        ("7731/120 A?B#1", "7731-120-A-B-1_"),
        ("A/B", "A-B_"),
        ("..", "file_"),
        ("", "file_"),
        ("con", "con_"),
        ("CON.txt", "CON-txt_"),
        ("-rf", "rf_"),
        ("Öse", "se_"),
    ],
)
def test_awkward_ids_get_a_safe_name_with_a_mark(text: str, begins: str) -> None:
    assert re.fullmatch(re.escape(begins) + r"[0-9a-f]{6}\.png", safe_file_name(text, ".png"))


def test_a_plain_id_keeps_its_name() -> None:
    assert safe_file_name("1000004235", ".pdf") == "1000004235.pdf"


def test_ids_that_differ_in_a_replaced_sign_do_not_share_a_name() -> None:
    assert len({safe_file_name(text) for text in ("A/B", "A-B", "A B", "A?B", "A\\B")}) == 5


@given(st.text(max_size=200))
def test_any_text_gives_a_name_every_system_takes(text: str) -> None:
    name = safe_file_name(text, ".pdf")
    assert re.fullmatch(r"[A-Za-z0-9_][A-Za-z0-9._-]*\.pdf", name)
    assert len(name) < 100
    assert name.split(".")[0].lower() not in DEVICES
