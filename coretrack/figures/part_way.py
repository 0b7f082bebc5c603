"""What a core is worth part-way through: the yield still to come, and only what is still to spend.

V = y' G + (1 - y') s - c', with y' the chance of a core in this state to end good and c' the
processing it still needs. Money that went into it already is sunk and no reason to keep or scrap.
Derived.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.charge import value_of_core
from coretrack.figures.lifecycle import NOT_OURS
from coretrack.figures.money import Money, whole

NOT_OURS_YET = "the shop does not own it"
FAMILY_UNKNOWN = "its family is not known"
WARRANTY = "it waits for its warranty test"


@dataclass(frozen=True)
class StepCosts:
    """What each step still costs per core (ten-thousandths), as the ledger shows it on average.

    `rework_share` is w, the share of cores that first inspection sends to rework; `rework` and
    `reinspect` are per attempt.
    """

    wash: Money
    inspect: Money
    rework: Money
    reinspect: Money
    rework_share: Fraction = Fraction(0)

    @property
    def later_rework(self) -> Fraction:
        """What rework costs on average per core that comes to first inspection."""
        return self.rework_share * (self.rework + self.reinspect)


@dataclass(frozen=True)
class Outlook:
    """What a core in one state still faces: its chance to end good and what it still needs.

    Both `None`, with `why`, where they cannot be told.
    """

    state: str
    good_share: Fraction | None
    to_spend: Money | None
    why: str | None = None


def outlook(
    state: str,
    costs: StepCosts | None,
    body_yield: Fraction | None,
    pass_rate: Fraction | None = None,
    looked_again: Fraction | None = None,
) -> Outlook:
    """Return what a core in `state` (a core's state in the shop) still faces.

    `body_yield` is y of cores not looked at yet, `pass_rate` the share of reworks that end as keep,
    `looked_again` the share of undecided cores that end good (y where that is not known). A good
    body and scrap face nothing more. A core that is not the shop's, of an unknown family, or under
    a warranty claim has no outlook.
    """
    if state in ("good", "scrapped"):
        return Outlook(state, Fraction(1 if state == "good" else 0), 0)
    for states, why in (
        (NOT_OURS, NOT_OURS_YET),
        ({"unknown"}, FAMILY_UNKNOWN),
        ({"comeback"}, WARRANTY),
    ):
        if state in states:
            return Outlook(state, None, None, why)
    if costs is None:
        return Outlook(state, None, None, "what the steps cost is not known")
    shares = {
        "waiting": body_yield,
        "open": body_yield,
        "undecided": body_yield if looked_again is None else looked_again,
        "rework": pass_rate,
        "reinspect": pass_rate,
    }
    if state not in shares:
        raise ValueError(f"'{state}' is no state of a core")
    share = shares[state]
    if share is None:
        lacks = "no rework has ended yet" if state in ("rework", "reinspect") else "no yield yet"
        return Outlook(state, None, None, lacks)
    to_spend = {
        "waiting": costs.wash + costs.inspect + costs.later_rework,
        "open": costs.inspect + costs.later_rework,
        "undecided": costs.inspect + costs.later_rework,
        "rework": Fraction(costs.rework + costs.reinspect),
        "reinspect": Fraction(costs.reinspect),
    }
    return Outlook(state, share, whole(to_spend[state]))


def part_way_worth(seen: Outlook, good_body: Money | None, scrap: Money | None) -> Money | None:
    """Return V of a core with this outlook, `None` while any part of it is not known.

    A core that would lose money from here on is worth its scrap: nobody has to go on with it.
    """
    if seen.good_share is None or seen.to_spend is None or scrap is None:
        return None
    if seen.state == "scrapped":
        return scrap
    if good_body is None:
        return None
    return max(scrap, value_of_core(seen.good_share, good_body, scrap, seen.to_spend))
