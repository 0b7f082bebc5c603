"""G, the value of one good body from outside the returns, and which source it is taken from.

The sources: bought lots (their net money per good body), a new body's price, the margin of a missed
sale. The cheapest that is available counts, unless the owner has put them in an order. A return can
never be one: put the returns' own cost in its place and any charge at all confirms itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from coretrack.errors import InvalidInput
from coretrack.figures.money import Money, shown, whole
from coretrack.figures.plain_words import counted

BOUGHT_LOTS = "bought lots"
NEW_BODY = "new body"
MISSED_SALE = "missed sale"
ORIGINS = (BOUGHT_LOTS, NEW_BODY, MISSED_SALE)

CHEAPEST = "the cheapest available"
IN_ORDER = "the shop's order"


@dataclass(frozen=True)
class GoodBodyValue:
    """G, the value of a good body from outside the return stream, and where it came from.

    `origin`: "bought lots", "new body" or "missed sale". `detail` is a plain sentence.
    """

    amount: Money
    origin: str
    detail: str


@dataclass(frozen=True)
class LotMoney:
    """A lot's decided cores and the net money spent on them; `is_return` for cores sent back."""

    name: str
    decided: int
    good: int
    net_cost: Money
    is_return: bool = False


@dataclass(frozen=True)
class GoodBodyCandidate:
    """One possible source of G: its value, or `why` it has none."""

    origin: str
    value: GoodBodyValue | None
    why: str | None = None


@dataclass(frozen=True)
class GoodBodyChoice:
    """Where G comes from: `chosen` among `candidates`, by which `policy`, in one sentence.

    `chosen` is `None`, with the reason in `sentence`, when no candidate has a value.
    """

    chosen: GoodBodyValue | None
    candidates: tuple[GoodBodyCandidate, ...]
    policy: str
    sentence: str


def good_body_value(
    lots: Sequence[LotMoney] = (),
    new_body_price: Money | None = None,
    missed_sale_margin: Money | None = None,
) -> GoodBodyValue | None:
    """Return the cheapest available source of one more good body, `None` when there is none.

    Bought lots count at their money per good body, once they gave one. InvalidInput when a return
    is among them: the charge would then be worked out from itself.
    """
    return good_body_choice(lots, new_body_price, missed_sale_margin).chosen


def good_body_choice(
    lots: Sequence[LotMoney] = (),
    new_body_price: Money | None = None,
    missed_sale_margin: Money | None = None,
    order: Sequence[str] = (),
) -> GoodBodyChoice:
    """Return every source of G and the one that counts.

    Without an `order` the cheapest available counts (ties to the earlier of `ORIGINS`), with one
    the first of it that is available; a source the order leaves out never counts. InvalidInput for
    a return among the lots, or an order that names something else or one source twice.
    """
    for origin in order:
        if origin not in ORIGINS:
            raise InvalidInput(
                f"'{origin}' is no source of a good body's value; use {', '.join(ORIGINS)}"
            )
    if len(set(order)) != len(order):
        raise InvalidInput("the order of sources names one of them twice")
    candidates = (
        _lots_candidate(lots),
        _price_candidate(NEW_BODY, new_body_price, "a new body costs {}"),
        _price_candidate(
            MISSED_SALE,
            missed_sale_margin,
            "each body that is missing costs a sale with {} margin",
        ),
    )
    values = {c.origin: c.value for c in candidates if c.value is not None}
    if order:
        found = next((values[origin] for origin in order if origin in values), None)
    else:
        found = min(values.values(), key=lambda value: value.amount, default=None)
    policy = IN_ORDER if order else CHEAPEST
    return GoodBodyChoice(found, candidates, policy, _told(found, candidates, policy))


def bought_lots_value(lots: Sequence[LotMoney]) -> GoodBodyValue | None:
    """Return net money per good body over bought lots; `None` when they gave no good body yet."""
    returns = [lot.name for lot in lots if lot.is_return]
    if returns:
        raise InvalidInput(
            f"{', '.join(returns)}: returned cores cannot set the value of a good body, because the"
            " core charge would then follow from itself; use bought lots only"
        )
    good = sum(lot.good for lot in lots)
    if good == 0:
        return None
    money, decided = sum(lot.net_cost for lot in lots), sum(lot.decided for lot in lots)
    detail = (
        f"{counted(len(lots), 'bought lot')}: {shown(money)} for {good:,} good of"
        f" {counted(decided, 'decided core')}"
    )
    return GoodBodyValue(whole(Fraction(money, good)), BOUGHT_LOTS, detail)


def _lots_candidate(lots: Sequence[LotMoney]) -> GoodBodyCandidate:
    found = bought_lots_value(lots)
    if found is not None:
        return GoodBodyCandidate(BOUGHT_LOTS, found)
    why = "no bought lot has given a good body yet" if lots else "no bought lot has been graded"
    return GoodBodyCandidate(BOUGHT_LOTS, None, why)


def _price_candidate(origin: str, amount: Money | None, words: str) -> GoodBodyCandidate:
    if amount is None:
        what = "price of a new body" if origin == NEW_BODY else "margin of a missed sale"
        return GoodBodyCandidate(origin, None, f"no {what} is entered")
    return GoodBodyCandidate(origin, GoodBodyValue(amount, origin, words.format(shown(amount))))


def _told(found: GoodBodyValue | None, candidates: Sequence[GoodBodyCandidate], policy: str) -> str:
    if found is None:
        return "a good body has no value yet: " + "; ".join(c.why for c in candidates if c.why)
    others = [
        f"{c.origin} {shown(c.value.amount)}"
        for c in candidates
        if c.value is not None and c.origin != found.origin
    ]
    beside = f" (also known: {', '.join(others)})" if others else " (no other source is known)"
    return f"{shown(found.amount)} from {found.origin}, {policy}{beside}"
