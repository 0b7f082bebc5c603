"""An owner's override: with a reason, for good, never past a crack, and its money goes along."""

from __future__ import annotations

import pytest
from core_yard import GOOD, Yard, money

from coretrack.errors import Forbidden, InvalidInput, NotAllowed

OVERSIZE = ("24.080", "24.081", "24.079")


@pytest.fixture
def bought(yard: Yard) -> Yard:
    yard.buy("A1", "A2")
    return yard


def test_scrap_turned_to_keep_takes_recovery_and_disposal_back(bought: Yard) -> None:
    bought.measure("A1", bore=OVERSIZE)
    assert bought.core("A1").recovery == money("1.44")
    core = bought.overrule("A1", "keep", "goes into an oversize pump")
    assert (core.state, core.grade, core.recovery, core.disposal) == ("good", "keep", 0, 0)
    assert bought.tally("family")["GPB"]["kept_first_pass"] == 1
    assert "recovery" not in bought.tally("family")["GPB"]
    assert bought.is_sound()


def test_keep_turned_to_scrap_and_back_again(bought: Yard) -> None:
    bought.measure("A1")
    assert bought.overrule("A1", "scrap", "dropped").recovery == money("1.44")
    again = bought.overrule("A1", "keep", "it was another one")
    assert (again.state, again.recovery, again.disposal) == ("good", 0, 0)
    with pytest.raises(InvalidInput, match="already is keep"):
        bought.overrule("A1", "keep")
    assert [e for e, _ in bought.history("core", again.tag)].count("overridden") == 2
    assert bought.is_sound()


def test_scrap_by_override_is_posted_at_the_rates_of_the_shops_day(bought: Yard) -> None:
    from datetime import UTC, datetime

    from coretrack.records.writer import writing

    with writing("owner", bought.now) as writer:
        key = "scrap_metal:aluminium@2026-11-01"
        fields = {"item": key[:21], "valid_from": "2026-11-01", "amount": "9.00"}
        writer.event("rate", key, "set", {"key": key, **fields})
    bought.measure("A1")
    bought.now = datetime(2026, 11, 1, 3, tzinfo=UTC)  # 31 October in the shop
    assert bought.overrule("A1", "scrap").recovery == money("1.44")


def test_a_crack_is_never_overridden(bought: Yard) -> None:
    bought.measure("A1", crack="indication 3 mm")
    for to in ("keep", "rework"):
        with pytest.raises(NotAllowed, match="A crack is never overridden"):
            bought.overrule("A1", to, operations=("clean",))
    bought.measure("A2", crack="unsure")
    with pytest.raises(NotAllowed, match="A crack is never overridden"):
        bought.overrule("A2", "keep")
    assert bought.core("A1").state == "scrapped"


def test_only_an_owner_with_a_reason_and_only_after_a_verdict(bought: Yard) -> None:
    with pytest.raises(NotAllowed, match="no verdict to override"):
        bought.overrule("A1", "scrap")
    bought.measure("A1")
    with pytest.raises(Forbidden):
        bought.overrule("A1", "scrap", role="inspector")
    with pytest.raises(InvalidInput, match="needs a reason"):
        bought.overrule("A1", "scrap", "  ")
    assert bought.core("A1").state == "good"


def test_what_was_not_measured_is_never_kept(bought: Yard) -> None:
    bought.measure("A1", look="")
    with pytest.raises(NotAllowed, match="not checked"):
        bought.overrule("A1", "keep")


def test_a_reworked_body_is_not_kept_before_it_is_measured_again(bought: Yard) -> None:
    bought.measure("A1", face="9")
    bought.finish("A1", "lap")
    assert bought.core("A1").state == "reinspect"
    with pytest.raises(NotAllowed, match="Cover face: not measured"):
        bought.overrule("A1", "keep", "surely fine now")


def test_to_rework_by_a_named_operation_that_the_body_may_have(bought: Yard) -> None:
    bought.measure("A1")
    core = bought.overrule("A1", "rework", "customer wants it bright", operations=("Clean again",))
    assert (core.state, core.operations) == ("rework", ("clean",))
    assert bought.finish("A1", "clean").stored == 1
    bought.measure("A2", bore=GOOD)
    with pytest.raises(InvalidInput, match="no rework operation 'weld'"):
        bought.overrule("A2", "rework", operations=("weld",))
    with pytest.raises(InvalidInput, match="Name the rework operation"):
        bought.overrule("A2", "rework")


def test_to_rework_past_its_most_passes_is_refused(bought: Yard) -> None:
    bought.measure("A1", thread="no-go")
    bought.finish("A1", "chase")
    bought.measure("A1", "2026-05-23 09:00", thread="no-go")
    assert bought.core("A1").state == "scrapped"
    with pytest.raises(NotAllowed, match="has been done once on this body, the most is 1"):
        bought.overrule("A1", "rework", operations=("chase",))
