"""Letters that the standard faces cannot print never break a paper."""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from coretrack.paper.letters import printable


def test_plain_letters_stay_and_signs_without_a_shape_go() -> None:
    plain = "".join(chr(code) for code in range(0x20, 0x7F))
    assert printable(plain) == plain
    assert printable("tab\there\x00 and\x1b there\x7f") == "tab here and there"


@given(st.text(st.characters(codec="utf-8"), max_size=40))
def test_a_text_prints_as_its_letters_do_one_by_one(text: str) -> None:
    composed = unicodedata.normalize("NFC", text)
    shown = printable(text)
    assert shown == "".join(printable(letter) for letter in composed if len(letter) == 1)
    shown.encode("cp1252")
    assert printable(shown) == shown
