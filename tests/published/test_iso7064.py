"""ISO/IEC 7064 MOD 97-10 check digits, as published, through the function that makes our codes.

794 -> 44 is the standard's own example (from memory); the other two stand in the documentation
of python-stdnum's module for the standard.
"""

from __future__ import annotations

import pytest

from coretrack.figures.tags import check_digits, has_valid_check

PUBLISHED = [("794", "44"), ("99991234567890121414", "90"), ("4354111611551114", "31")]


@pytest.mark.parametrize(("payload", "digits"), PUBLISHED)
def test_the_published_check_digits_come_out(payload: str, digits: str) -> None:
    assert check_digits(payload) == digits
    assert has_valid_check(payload + digits)


@pytest.mark.parametrize(("payload", "digits"), PUBLISHED)
def test_every_other_pair_of_check_digits_is_wrong(payload: str, digits: str) -> None:
    right = [f"{pair:02d}" for pair in range(100) if has_valid_check(f"{payload}{pair:02d}")]
    # The pairs 00, 01 and 98, 99 would be equal modulo 97; only the computed one counts.
    assert right == [digits]
