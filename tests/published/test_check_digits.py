"""GS1 mod 10 check digits (weights 3 and 1 from the right) with published results.

629104150021 -> 3 is GS1's own worked example (from memory). The others are the last digits of
published example GTINs and of a printed ISBN.
"""

from __future__ import annotations

import pytest

from coretrack.figures.gs1 import gtin_check_digit, is_gtin


@pytest.mark.parametrize(
    ("payload", "digit"),
    [
        ("629104150021", "3"),
        ("0952123454321", "3"),
        ("978020137962", "4"),
        ("061414112345", "2"),
        ("03600029145", "2"),
        ("400638133393", "1"),
    ],
)
def test_the_published_check_digit_comes_out(payload: str, digit: str) -> None:
    assert gtin_check_digit(payload) == digit
    assert is_gtin(payload + digit)
    assert [d for d in "0123456789" if is_gtin(payload + d)] == [digit]
