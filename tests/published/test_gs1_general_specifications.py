"""GS1 element strings with published readings.

Sources: GS1 General Specifications, release 18, 7.8.4 (separators, day 00 in a date); the
(01)…(17)…(10)…(21) example of a published barcode writer's manual; the others from the
documentation and tests of python-stdnum's GS1-128 module.
"""

from __future__ import annotations

from datetime import date

import pytest

from coretrack.figures.gs1 import SEPARATOR, lost_separator, parse_brackets, parse_gs1

PUBLISHED = [
    (
        f"01095212345432131710010110123ABC{SEPARATOR}211234567890",
        "(01)09521234543213(17)100101(10)123ABC(21)1234567890",
    ),
    (
        f"010506091751001110628S93R{SEPARATOR}17241000218898847482518646",
        "(01)05060917510011(10)628S93R(17)241000(21)8898847482518646",
    ),
    ("013842587609507417181119371", "(01)38425876095074(17)181119(37)1"),
    (
        f"015842587609784310123456{SEPARATOR}3718{SEPARATOR}",
        "(01)58425876097843(10)123456(37)18",
    ),
]


@pytest.mark.parametrize(("scanned", "printed"), PUBLISHED)
def test_the_published_strings_read_as_printed(scanned: str, printed: str) -> None:
    data = parse_gs1(scanned)
    assert data.in_brackets == printed
    assert data.faults == ()
    assert parse_brackets(printed) == data


@pytest.mark.parametrize(
    ("scanned", "day"),
    [
        ("17260400", date(2026, 4, 30)),
        ("17241000", date(2024, 10, 31)),
        ("17100101", date(2010, 1, 1)),
        ("17181119", date(2018, 11, 19)),
    ],
)
def test_the_published_dates_come_out(scanned: str, day: date) -> None:
    assert parse_gs1(scanned).elements[0].day == day


def test_without_the_separator_the_batch_runs_on_and_is_suspected() -> None:
    data = parse_gs1("010952123454321310123ABC211234567890")
    assert data.get("10") == "123ABC211234567890"
    assert [other.in_brackets for other in lost_separator(data)] == [
        "(01)09521234543213(10)123ABC(21)1234567890"
    ]
