"""Code 128 against published worked examples, and our symbol table against two libraries'.

Sources: an online encyclopaedia's article on Code 128 (PJJ123C) and two public descriptions of
the symbology (the other texts, the start and stop patterns, the length in modules).
"""

from __future__ import annotations

import pytest
from barcode.charsets import code128 as first_library
from reportlab.graphics.barcode.code128 import Code128Auto

from coretrack.paper.barcodes import check_word, code_words, encode_code128
from coretrack.paper.code128_table import START_A, START_B, START_C, STOP_WIDTHS, WIDTHS


@pytest.mark.parametrize(
    ("words", "weighted_sum", "check"),
    [
        ([103, 48, 42, 42, 17, 18, 19, 35], 878, 54),  # PJJ123C in set A
        ([103, 40, 41, 99, 34, 56, 78], 1406, 67),  # HI345678, A then C
        ([103, 33, 34, 35, 36, 37, 38], 866, 42),  # ABCDEF in set A
        ([104, 65, 66, 67, 68, 69, 70], 1539, 97),  # abcdef in set B
        ([105, 34, 56, 78], 485, 73),  # 345678 in set C
    ],
)
def test_check_word_of_published_examples(words: list[int], weighted_sum: int, check: int) -> None:
    assert words[0] + sum(n * word for n, word in enumerate(words)) == weighted_sum
    assert check_word(words) == check


@pytest.mark.parametrize(
    ("text", "words", "modules"),
    [
        # Capitals start in set B here, so the check word differs from the printed set A examples.
        ("PJJ123C", [104, 48, 42, 42, 17, 18, 19, 35, 55], 112),
        ("HI345678", [104, 40, 41, 99, 34, 56, 78, 68], 101),
        ("CORE-000123", [104, 35, 47, 50, 37, 13, 99, 0, 1, 23, 66], 134),
        # Same set as the published example, so the same check word.
        ("abcdef", [104, 65, 66, 67, 68, 69, 70, 97], 101),
        ("345678", [105, 34, 56, 78, 73], 68),
    ],
)
def test_encoded_words_check_and_length(text: str, words: list[int], modules: int) -> None:
    bars = encode_code128(text)
    assert code_words(bars.widths) == words
    # Published: 11 modules a word and 13 for the stop with its last bar.
    assert bars.modules == modules == 11 * len(words) + 13


def test_start_and_stop_widths_are_the_published_ones() -> None:
    assert [WIDTHS[word] for word in (START_A, START_B, START_C)] == ["211412", "211214", "211232"]
    assert STOP_WIDTHS == "2331112"
    assert _modules(WIDTHS[START_A]) == "11010000100"
    assert _modules(WIDTHS[START_B]) == "11010010000"
    assert _modules(WIDTHS[START_C]) == "11010011100"
    assert _modules(STOP_WIDTHS) == "11000111010" + "11"


def test_every_word_is_eleven_modules_and_its_own() -> None:
    assert len(WIDTHS) == len(set(WIDTHS)) == 106
    assert {sum(map(int, widths)) for widths in WIDTHS} == {11}


def test_symbol_table_agrees_with_python_barcode() -> None:
    assert [_modules(widths) for widths in WIDTHS] == list(first_library.CODES)


def test_symbol_table_agrees_with_reportlab() -> None:
    pairs = "".join(f"{pair:02d}" for pair in range(100))
    symbol = Code128Auto(pairs, quiet=0)
    symbol.validate()
    symbol.encode()
    symbol.decompose()
    widths = "".join(str("abcd".index(letter.lower()) + 1) for letter in symbol.decomposed)
    assert [widths[n : n + 6] for n in range(6, 606, 6)] == list(WIDTHS[:100])


def _modules(widths: str) -> str:
    return "".join(("1", "0")[place % 2] * int(width) for place, width in enumerate(widths))
