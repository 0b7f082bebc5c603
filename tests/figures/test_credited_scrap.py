"""Credited, then scrapped: the share, the money, and which dock line is too soft."""

from __future__ import annotations

import pytest

from coretrack.figures.credited_scrap import CreditedCore, credited_scrap
from coretrack.figures.intervals import wilson

VISIBLE = ("stripped thread", "burnt")


def _cores(kept: int, waiting: int, *scrapped: tuple[str, ...]) -> list[CreditedCore]:
    cores = [CreditedCore(f"k{n}", 180_000, False) for n in range(kept)]
    cores += [CreditedCore(f"w{n}", 180_000, None) for n in range(waiting)]
    return cores + [
        CreditedCore(f"s{n}", 180_000, True, reasons) for n, reasons in enumerate(scrapped)
    ]


def test_share_and_money_of_decided_cores_only() -> None:
    found = credited_scrap(
        _cores(14, 5, *[("crack",)] * 4, ("stripped thread",), ("stripped thread", "crack")),
        VISIBLE,
        {},
    )
    assert (found.credited, found.decided, found.open, found.scrapped) == (25, 20, 5, 6)
    assert found.share == 0.3
    assert found.interval == wilson(6, 20)
    assert (found.paid, found.money) == (20 * 180_000, 6 * 180_000)
    assert (found.visible, found.visible_money) == (2, 360_000)
    assert [line.reason for line in found.lines] == ["stripped thread"]
    assert (found.lines[0].row.only, found.lines[0].row.with_others) == (1, 1)
    assert found.lines[0].row.only_money == 180_000


def test_a_line_that_lets_most_through_is_asked_about() -> None:
    found = credited_scrap(
        _cores(60, 0, *[("stripped thread",)] * 18, *[("burnt",)] * 3),
        VISIBLE,
        {"stripped thread": 4, "burnt": 20},
    )
    thread, burnt = found.lines
    assert (thread.missed, thread.met, thread.soft) == (18, 22, True)
    assert not burnt.soft
    assert found.sentence.endswith(
        "Is the dock's line on stripped thread (18 of 22 credited) too soft?"
    )


def test_a_handful_let_through_is_not_called_soft() -> None:
    found = credited_scrap(_cores(60, 0, *[("burnt",)] * 4), VISIBLE, {})
    assert found.lines[0].share == 1.0
    assert not found.lines[0].soft


def test_nothing_decided_has_no_share() -> None:
    found = credited_scrap(_cores(0, 7), VISIBLE, {})
    assert found.share is None
    assert found.interval.high is None
    assert found.why == "no credited core has been decided yet"
    assert found.open == 7
    assert credited_scrap([], VISIBLE, {}).share is None


def test_none_scrapped_is_a_share_of_zero_with_a_width() -> None:
    found = credited_scrap(_cores(12, 0), VISIBLE, {"burnt": 3})
    assert found.share == 0.0
    assert found.interval.high is not None
    assert found.interval.high > 0.2
    assert found.lines == ()


def test_a_negative_count_is_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        credited_scrap([], VISIBLE, {"burnt": -1})
