"""What becomes of cost, value, charge and coverage when yield, spending or window change.

C = s + (A - s) / y,  V = y G + (1 - y) s - c,  D* = V + t,  coverage = r q y: each is worked out
anew at the yields that a re-graded history bounds, so that what is not known about a reading stays
not known about the money. Derived.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from coretrack.figures.charge import make_whole, value_of_core
from coretrack.figures.costing import cost_at_yield
from coretrack.figures.money import Money, shown, whole
from coretrack.figures.plain_words import percent
from coretrack.figures.regrading import Regraded
from coretrack.figures.return_days import ReturnDays, returned_by


@dataclass(frozen=True)
class Standing:
    """What a family's figures are worked out from; money in ten-thousandths, `None` if unknown.

    `per_core` is A, the money put into a decided core, `scrap` s, `processing` c, `good_body` G,
    `sourcing` t; `body_yield` y, `return_rate` r and `accepted` q are shares.
    """

    body_yield: Fraction | None
    per_core: Money | None
    scrap: Money | None
    processing: Money | None
    good_body: Money | None
    sourcing: Money = 0
    return_rate: float | None = None
    accepted: float | None = None


@dataclass(frozen=True)
class Outcome:
    """The figures that follow; each is `None` while one of its inputs is not known."""

    body_yield: Fraction | None
    cost_per_good_body: Money | None
    value: Money | None
    make_whole: Money | None
    coverage: float | None


def outcome(at: Standing) -> Outcome:
    """Return cost per good body, value of one more core, make-whole charge and coverage."""
    body_yield = at.body_yield
    if body_yield is None:
        return Outcome(None, None, None, None, None)
    if not 0 <= body_yield <= 1:
        raise ValueError(f"a yield lies between 0 and 1; {body_yield} does not")
    cost = value = covered = None
    if at.per_core is not None and at.scrap is not None and body_yield > 0:
        cost = whole(cost_at_yield(at.per_core, at.scrap, body_yield))
    if at.good_body is not None and at.scrap is not None and at.processing is not None:
        value = value_of_core(body_yield, at.good_body, at.scrap, at.processing)
    if at.return_rate is not None and at.accepted is not None:
        covered = at.return_rate * at.accepted * float(body_yield)
    charge = None if value is None else make_whole(value, at.sourcing)
    return Outcome(body_yield, cost, value, charge, covered)


@dataclass(frozen=True)
class WhatIf:
    """The figures now, and at the fewest and the most good bodies the change can give.

    `certain` says whether the two ends are the same. `why` tells why there is no answer.
    """

    now: Outcome
    fewest: Outcome
    most: Outcome
    certain: bool
    sentences: tuple[str, ...]
    why: str | None = None


def after_regrading(at: Standing, found: Regraded, attempt_cost: Money = 0) -> WhatIf:
    """Return the figures after a draft plan.

    `attempt_cost` is what one rework with its re-inspection costs: each attempt that the draft adds
    or spares moves A and c by its share. Bodies that cannot be told are taken as reworked in the
    lower end (spent on, then lost) and as good without rework in the upper.
    """
    now = outcome(at)
    if found.fewest is None or found.most is None:
        return WhatIf(now, *(2 * (Outcome(None, None, None, None, None),)), False, (), found.why)
    ends = [
        outcome(_moved(at, Fraction(good, found.decided), attempt_cost, attempts, found.decided))
        for good, attempts in (
            (found.fewest, found.attempts + found.unknown - found.spared),
            (found.most, found.attempts - found.spared),
        )
    ]
    certain = found.fewest == found.most and found.unknown == 0
    sentences = (found.sentence, *_sentences(now, ends[0], ends[1]))
    return WhatIf(now, ends[0], ends[1], certain, sentences)


def after_change(at: Standing, **changes: Fraction | float | Money) -> WhatIf:
    """Return the figures with fields of `Standing` replaced: a yield, a charge's input, a rate.

    TypeError for a field it does not have.
    """
    values: dict[str, Any] = dict(changes)
    now, then = outcome(at), outcome(replace(at, **values))
    why = None if then.body_yield is not None else "no yield yet: enter one to try it out"
    return WhatIf(now, then, then, True, _sentences(now, then, then), why)


def _moved(
    at: Standing, body_yield: Fraction, attempt_cost: Money, more: int, decided: int
) -> Standing:
    extra = whole(Fraction(attempt_cost * more, decided))
    return replace(
        at,
        body_yield=body_yield,
        per_core=None if at.per_core is None else at.per_core + extra,
        processing=None if at.processing is None else at.processing + extra,
    )


def _sentences(now: Outcome, fewest: Outcome, most: Outcome) -> tuple[str, ...]:
    told = []
    for name, field in (
        ("cost per good body", "cost_per_good_body"),
        ("one more returned core is worth", "value"),
        ("make-whole charge", "make_whole"),
    ):
        ends = [getattr(end, field) for end in (fewest, most)]
        before = getattr(now, field)
        if before is None or None in ends:
            continue
        low, high = min(ends), max(ends)
        span = shown(low) if low == high else f"{shown(low)} to {shown(high)}"
        told.append(f"{name}: {span} instead of {shown(before)}")
    if now.coverage is not None and fewest.coverage is not None and most.coverage is not None:
        low_share, high_share = percent(fewest.coverage), percent(most.coverage)
        span = low_share if low_share == high_share else f"{low_share} to {high_share}"
        told.append(f"coverage: {span} instead of {percent(now.coverage)}")
    return tuple(told)


@dataclass(frozen=True)
class WindowTrial:
    """The share of cores back within `days`, 0..1, bounded where the curve does not reach so far.

    `share` is `None` beyond the longest stay that was seen: what was back by then is the low end
    and all of it the high one. All `None` with `why` without a return.
    """

    days: int
    share: float | None
    low: float | None
    high: float | None
    sentence: str
    why: str | None = None


def try_window(curve: ReturnDays, days: int, level: float = 0.95) -> WindowTrial:
    """Return the share back within a window of `days`, from the days-to-return curve as it is.

    That a shorter window also hurries customers, and a longer one lets them wait, is not in it.
    ValueError for a negative window.
    """
    if days < 0:
        raise ValueError(f"a window of {days} days cannot be")
    if curve.followed is None or not curve.steps:
        why = curve.why or "there is no curve to read the window from"
        return WindowTrial(days, None, None, None, why, why)
    found = returned_by(curve, min(days, curve.followed), level)
    low, high = found.interval.low, found.interval.high
    if found.share is None or low is None or high is None:
        why = found.why or "the curve has no interval there"
        return WindowTrial(days, found.share, None, None, why, why)
    back = f"{percent(low)} to {percent(high)}"
    if days <= curve.followed:
        told = (
            f"within {days} days {percent(found.share)} of cores come back ({back}), if customers"
            " send them as they do now"
        )
        return WindowTrial(days, found.share, low, high, told)
    told = (
        f"within {days} days at least {percent(low)}: no sale has been followed longer than"
        f" {curve.followed} days"
    )
    return WindowTrial(days, None, low, 1.0, told)
