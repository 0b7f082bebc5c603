"""The advised order of checks costs least of all orders."""

from __future__ import annotations

from fractions import Fraction
from itertools import permutations

from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.check_order import CheckRecord, average_seconds, cheapest_order


def record(code: str, failed: int, seconds: int | None, tried: int = 20) -> CheckRecord:
    return CheckRecord(code, code, tried, failed, None if seconds is None else Fraction(seconds))


records = st.lists(st.tuples(st.integers(0, 20), st.integers(1, 300)), min_size=1, max_size=5).map(
    lambda told: [record(f"c{n}", *one) for n, one in enumerate(told)]
)


@given(records)
def test_no_other_order_is_cheaper(present: list[CheckRecord]) -> None:
    advice = cheapest_order(present)
    if advice.why:
        assert not any(one.failed for one in present)
        return
    assert advice.seconds_then == min(average_seconds(some) for some in permutations(present))
    assert advice.seconds_now == average_seconds(present)


def test_a_worked_example() -> None:
    # Derived by hand: 60 s catching 2 of 20 cost 600 s a body caught, 20 s catching 4 cost 100 s.
    advice = cheapest_order([record("bore", 2, 60), record("crack", 4, 20), record("look", 0, 5)])
    assert advice.order == ("crack", "bore", "look")
    assert (advice.seconds_now, advice.seconds_then) == (
        60 + Fraction(9, 10) * 20 + Fraction(9, 10) * Fraction(4, 5) * 5,
        20 + Fraction(4, 5) * 60 + Fraction(4, 5) * Fraction(9, 10) * 5,
    )


def test_what_is_not_known_is_said_and_not_guessed() -> None:
    assert cheapest_order([record("a", 1, 10), record("b", 1, None)]).why == (
        "no time is known for: b"
    )
    assert "no body was lost" in cheapest_order([record("a", 0, 10)]).why
    assert record("a", 0, 10, tried=0).fails is None
