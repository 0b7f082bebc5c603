"""Standard scrap rates by file."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from core_yard import Yard, csv_bytes, why

from coretrack.actions.imports import ImportAnswer
from coretrack.actions.standards import import_standards
from coretrack.records.database import connection
from coretrack.records.queries import families


def settle(yard: Yard, rate: str) -> ImportAnswer:
    request = yard.request(csv_bytes("family,scrap rate", [("GPB", rate)]), "standards.csv")
    return import_standards(request, by=yard.by, now=yard.now)


def standard(yard: Yard) -> str:
    with connection():
        return next(family.standard_yield for family in families() if family.key == "GPB")


def test_a_rate_may_go_back_to_what_it_was(yard: Yard) -> None:
    for rate, expected in (("30%", "0.7"), ("25%", "0.75"), ("30%", "0.7")):
        assert settle(yard, rate).stored == 1
        assert standard(yard) == expected
        yard.now += timedelta(hours=1)


def test_the_same_rate_again_changes_nothing(yard: Yard) -> None:
    settle(yard, "30%")
    yard.now += timedelta(hours=1)
    answer = settle(yard, "30%")
    assert (answer.stored, answer.already) == (0, 1)


def test_a_bare_number_is_asked_back_with_both_meanings(yard: Yard) -> None:
    before = standard(yard)
    answer = settle(yard, "5")
    assert "5%" in why(answer)
    assert "500%" in why(answer)
    assert standard(yard) == before


def test_a_rate_of_everything_is_refused(yard: Yard) -> None:
    assert "under 100 %" in why(settle(replace(yard), "100%"))
