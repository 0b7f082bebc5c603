"""What people stumbled over who used the shop with nothing but its own pages of help."""

from __future__ import annotations

import pytest
from core_yard import Yard, csv_bytes, money, why

from coretrack.actions.pricing import charge_advice_for
from coretrack.actions.receiving import manifest_terms
from coretrack.actions.rollups import Question, costs
from coretrack.errors import InvalidInput, NotFound

SALES = csv_bytes(
    "invoice,date,customer,number,quantity,core charge",
    [("S1", "2026-05-04", "ANSL", "GP-1040", 6, "20.00")],
)


@pytest.mark.parametrize("source", [None, "COPP"])
def test_a_sales_file_is_not_taken_for_cores(yard: Yard, source: str | None) -> None:
    with pytest.raises(InvalidInput, match="'core charge', so it looks like sales"):
        yard.take_in(SALES, "sales.csv", source=source, price="10" if source else None)
    assert yard.cores() == []


def test_a_charge_of_half_a_cent_is_asked_back(yard: Yard) -> None:
    assert "whole number of cents" in why(yard.sell("S1", charge="38.0050"))
    assert yard.sell("S1", charge="38.00").stored == 1


def test_plans_of_two_families_are_two_groups(yard: Yard) -> None:
    yard.buy("A1")
    yard.measure("A1")
    groups = [row.group for row in costs(Question(by="plan")) if row.yields.counts.decided]
    assert groups == ["GPB/1"]


def test_a_family_is_found_whatever_its_capitals_and_the_known_ones_are_named(yard: Yard) -> None:
    assert charge_advice_for("gpb", yard.now).family == "GPB"
    with pytest.raises(NotFound, match="known: CLB, GPB"):
        charge_advice_for("nope", yard.now)


def test_a_bid_yield_may_be_told_in_percent() -> None:
    assert manifest_terms("COPP", bid_yield="62%").bid_yield == "0.62"
    assert manifest_terms("COPP", bid_yield="0.62").bid_yield == "0.62"
    with pytest.raises(InvalidInput):
        manifest_terms("COPP", bid_yield="162%")


def test_signs_between_a_crack_and_its_words_are_dropped(yard: Yard) -> None:
    yard.buy("A1")
    yard.measure("A1", crack="indication, linear 4 mm")
    finding = next(f for f in yard.core("A1").findings if f["check"] == "crack")
    assert finding["detail"] == "linear 4 mm"
    assert yard.core("A1").price == money("10.00")
