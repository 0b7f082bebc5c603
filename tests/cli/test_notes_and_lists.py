"""Notes under a table of figures, and which lots a table lists."""

from __future__ import annotations

import pytest

from coretrack.actions import rollups
from coretrack.cli.figures import MOST_ALIKE, print_notes
from coretrack.figures.rates import RateBook


def test_what_is_to_be_said_of_many_groups_is_said_once_with_their_number(
    capsys: pytest.CaptureFixture[str],
) -> None:
    few = [
        (f"D{n}", (f"only {n} core{'s are' if n > 1 else ' is'} decided: it may still move",))
        for n in range(1, MOST_ALIKE + 2)
    ]
    print_notes([*few, ("P1", ("lots differ",))])
    assert capsys.readouterr().out.splitlines() == [
        "  13 groups: only n cores are decided: it may still move",
        "  P1: lots differ",
    ]
    print_notes(few[:-1])
    assert len(capsys.readouterr().out.splitlines()) == MOST_ALIKE


def test_a_step_without_any_rate_is_missing_and_one_of_its_two_rates_is_enough(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    known = {"labour", "receive_minutes", "inspect_consumables", "reinspect_minutes"}

    def missing(self: RateBook, day: object) -> tuple[str, ...]:
        from coretrack.figures.rates import FIXED_ITEMS

        return tuple(item for item in FIXED_ITEMS if item not in known)

    monkeypatch.setattr(rollups.queries, "rates", list)
    monkeypatch.setattr(RateBook, "missing", missing)
    assert rollups.missing_rates() == ("wash_minutes", "wash_consumables", "disposal")
