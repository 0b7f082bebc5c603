"""Bids for a lot by the piece and by weight, and the bid while a sample of it is being checked.

How good a lot may be comes from the lots its source sent before, or else from all bought lots of
the family (`bid_prior`). After n checked pieces with j good ones the rest of the lot is
beta-binomial with a + j and b + n - j: for pieces drawn from the lot without putting them back that
is exact, since every order of a beta-binomial lot's pieces is as likely as any other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.buying import Bid, after_checking, bid
from coretrack.figures.costing import cost_at_yield
from coretrack.figures.discrete import at_least, beta_binomial, quantile
from coretrack.figures.dispersion import (
    LEAST_LOTS,
    Batch,
    LotSpread,
    beta_from_mean_and_sd,
    lot_spread,
)
from coretrack.figures.finite_lots import LotBounds, bad_in_lot
from coretrack.figures.intervals import check_level
from coretrack.figures.money import Money, shown, whole
from coretrack.figures.piece_estimates import PieceEstimate
from coretrack.figures.plain_words import counted, percent

CONFIDENCES = (0.5, 0.8, 0.9, 0.95)
"""The rows of a bid table, from daring to careful."""

ASSUMED_SD = 0.10
"""Lot-to-lot spread while too few lots show it (common practice is 0.06 to 0.12, no source)."""

FROM_SOURCE, FROM_FAMILY = "the source's own lots", "all bought lots of the family"

BUY, LEAVE, CHECK_MORE = "buy", "leave", "check more"


@dataclass(frozen=True)
class BidPrior:
    """What the yield of a lot not seen yet is drawn from: Beta(a, b), of `lots` from `origin`.

    `sd` is the lot-to-lot spread, `assumed` where too few lots show it. Everything is `None` with
    `why` when no core of the kind has been decided.
    """

    a: float | None
    b: float | None
    mean: float | None
    sd: float | None
    assumed: bool
    lots: int
    origin: str
    sentence: str
    why: str | None = None


def bid_prior(source_lots: Sequence[Batch], family_lots: Sequence[Batch]) -> BidPrior:
    """Return what to expect of the next lot, from the source's lots if there are enough.

    Returned cores do not belong into either: bought lots are another stream.
    """
    for lots, origin in ((source_lots, FROM_SOURCE), (family_lots, FROM_FAMILY)):
        found = lot_spread(lots)
        if found.lots >= LEAST_LOTS or (origin == FROM_FAMILY and found.mean is not None):
            return _prior(found, origin, sum(lot.decided for lot in lots))
    found = lot_spread(source_lots)
    if found.mean is not None:
        return _prior(found, FROM_SOURCE, sum(lot.decided for lot in source_lots))
    why = "no bought core of this family has been decided yet: check a sample first"
    return BidPrior(None, None, None, None, False, 0, FROM_FAMILY, why, why)


def _prior(found: LotSpread, origin: str, decided: int) -> BidPrior:
    mean, a, b, sd, assumed = found.mean, found.a, found.b, found.sd, False
    if mean is None or a is None or b is None:
        raise ValueError("lots with decided cores have a mean")
    if sd is None:
        # Without this, few lots would look surer than many: they carry no spread at all.
        middle = (a / (a + b)) if mean in (0, 1) else mean
        most = 0.9 * (middle * (1 - middle)) ** 0.5
        wide = beta_from_mean_and_sd(middle, min(ASSUMED_SD, most))
        if sum(wide) < a + b:
            a, b = wide
        sd, assumed = min(ASSUMED_SD, most), True
    apart = f"differ by {percent(sd)}" if sd else "differ no more than chance makes them"
    told = f"{origin}: {percent(mean)} of {counted(decided, 'decided core')} good, lots {apart}"
    if assumed:
        told += f" (assumed: it takes {LEAST_LOTS} lots to see it)"
    return BidPrior(a, b, mean, sd, assumed, found.lots, origin, told)


@dataclass(frozen=True)
class Worth:
    """What a piece brings and costs: G, s, c per piece, and freight for the lot.

    `wrong_share` is the share of pieces of a family nobody wants (0..1); each of them is received,
    costs `receiving`, and brings its scrap.
    """

    good_body: Money
    scrap: Money
    processing: Money
    freight: Money = 0
    receiving: Money = 0
    wrong_share: Fraction = Fraction(0)


def lot_bid(
    pieces: int,
    prior: tuple[float, float],
    worth: Worth,
    confidence: float = 0.9,
    checked: int = 0,
    checked_good: int = 0,
) -> Bid:
    """Return the most to pay for `pieces`, wrong families taken off; (a, b) is `prior`.

    Wrong pieces are rounded up. ValueError for a wrong share outside 0..1, no piece of the family
    left, or more checked than there are.
    """
    if not 0 <= worth.wrong_share <= 1:
        raise ValueError(f"a share of wrong pieces lies between 0 and 1, not {worth.wrong_share}")
    wrong = -int(-pieces * worth.wrong_share // 1)
    right = bid(
        pieces - wrong, *prior, worth.good_body, worth.scrap, worth.processing,
        worth.freight, confidence, checked, checked_good,
    )  # fmt: skip
    if wrong == 0:
        return right
    total = right.total + wrong * (worth.scrap - worth.receiving)
    why = "at this confidence the lot loses money even as a gift" if total < 0 else None
    return Bid(
        pieces, confidence, right.good_bodies, right.expected_good, total, total // pieces, why
    )


def bid_table(
    pieces: int,
    prior: tuple[float, float],
    worth: Worth,
    confidences: Sequence[float] = CONFIDENCES,
) -> tuple[Bid, ...]:
    """Return one bid for each confidence, in the order given."""
    return tuple(lot_bid(pieces, prior, worth, confidence) for confidence in confidences)


@dataclass(frozen=True)
class NextLotCost:
    """What a good body of a lot not bought yet would cost, in four of five such lots.

    Wider than the interval of the past, because one lot is less sure than their mean.
    Ten-thousandths; `high` is `None`, with `why`, where no good body at all cannot be ruled out,
    and `expected` where a lot without any is likelier than one in two.
    """

    pieces: int
    low: Money | None
    expected: Money | None
    high: Money | None
    level: float
    sentence: str
    why: str | None = None


def next_lot_cost(
    pieces: int,
    prior: tuple[float, float],
    per_core: Money,
    scrap: Money,
    level: float = 0.8,
) -> NextLotCost:
    """Return s + (A - s) N / K at the low, middle and high number K of good bodies of N pieces.

    `per_core` is A, price with freight and processing per piece. ValueError without a piece.
    """
    check_level(level)
    if pieces < 1:
        raise ValueError(f"a lot has at least one piece, not {pieces}")
    chances = beta_binomial(pieces, *prior)
    found = []
    for probability in ((1 + level) / 2, 0.5, (1 - level) / 2):
        good = quantile(chances, probability)
        share = Fraction(good, pieces)
        found.append(whole(cost_at_yield(per_core, scrap, share)) if good else None)
    low, expected, high = found
    why = None if high is not None else "a lot without any good body cannot be ruled out"
    told = f"a good body of the next lot costs about {shown(expected)}"
    told += f" ({shown(low)} to {shown(high)} in {percent(level)} of such lots)"
    return NextLotCost(pieces, low, expected, high, level, told, why)


@dataclass(frozen=True)
class WeightBid:
    """The most to pay for a lot sold by weight, `per_kg` rounded down to a ten-thousandth.

    The number of pieces is an estimate: `total` is the least of the bids at its low end, middle and
    high end, which `at_low`, `at_middle` and `at_high` show (`at_high` is `None` where the estimate
    has no high end, `at_low` where it has no limits at all: the middle then stands alone, `why`).
    """

    mass_g: int
    confidence: float
    total: Money
    per_kg: Money
    at_low: Bid | None
    at_middle: Bid
    at_high: Bid | None
    sentence: str
    why: str | None = None


def weight_bid(
    mass_g: int,
    estimate: PieceEstimate,
    prior: tuple[float, float],
    worth: Worth,
    confidence: float = 0.9,
) -> WeightBid:
    """Return the most to pay per kilogram of a lot of `mass_g` grams.

    ValueError when the lot weighs nothing or holds no piece.
    """
    if mass_g <= 0:
        raise ValueError("a lot sold by weight weighs more than nothing")
    middle = lot_bid(estimate.pieces, prior, worth, confidence)
    low, high = (
        lot_bid(pieces, prior, worth, confidence) if pieces else None
        for pieces in (estimate.low, estimate.high)
    )
    total = min(found.total for found in (low, middle, high) if found is not None)
    per_kg = total * 1000 // mass_g
    span = "" if low is None else f" ({estimate.low:,} to {_end(estimate.high)})"
    sentence = (
        f"{shown(per_kg)} a kilogram, {shown(total)} in all, for about"
        f" {counted(estimate.pieces, 'piece')}{span}"
    )
    why = None
    if low is None:
        why = f"the number of pieces has no limits: {estimate.why or 'no sample with a spread'}"
    return WeightBid(mass_g, confidence, total, per_kg, low, middle, high, sentence, why)


def _end(pieces: int | None) -> str:
    return "more" if pieces is None else f"{pieces:,}"


@dataclass(frozen=True)
class SampleBid:
    """What a lot is worth now that `checked` pieces were looked at and `good` were good.

    `before` is the bid without the sample, `now` with it; `if_next_good` and `if_next_bad` after
    one more piece (`None` when all are checked). `bad_in_lot` bounds the bad pieces by the sample
    alone, whatever other lots were like. With an asking price, `chance_not_losing` is the chance
    that the lot is worth it, and `verdict` buy, leave or check more; both `None` without one.
    """

    pieces: int
    checked: int
    good: int
    before: Bid
    now: Bid
    if_next_good: Bid | None
    if_next_bad: Bid | None
    bad_in_lot: LotBounds
    chance_not_losing: float | None
    verdict: str | None
    sentence: str


def sample_bid(
    pieces: int,
    checked: int,
    good: int,
    prior: tuple[float, float],
    worth: Worth,
    confidence: float = 0.9,
    asking: Money | None = None,
) -> SampleBid:
    """Return the bid after checking `checked` pieces, of which `good` were good.

    `asking` is what the seller wants for the whole lot. Wrong families are known piece by piece in
    a sample, so a `wrong_share` in `worth` counts for what the lot holds beside these `pieces`:
    give 0 when the pieces are all of the family. ValueError for impossible counts.
    """
    now = lot_bid(pieces, prior, worth, confidence, checked, good)
    ahead = [
        lot_bid(pieces, prior, worth, confidence, checked + 1, good + more)
        if checked < pieces
        else None
        for more in (1, 0)
    ]
    chance = verdict = None
    if asking is not None:
        chance = chance_not_losing(pieces, prior, worth, asking, checked, good)
        verdict = _verdict(chance, confidence, checked == pieces)
    return SampleBid(
        pieces=pieces,
        checked=checked,
        good=good,
        before=lot_bid(pieces, prior, worth, confidence),
        now=now,
        if_next_good=ahead[0],
        if_next_bad=ahead[1],
        bad_in_lot=bad_in_lot(checked - good, checked, pieces),
        chance_not_losing=chance,
        verdict=verdict,
        sentence=_told(now, checked, good, chance, verdict),
    )


def chance_not_losing(
    pieces: int,
    prior: tuple[float, float],
    worth: Worth,
    price: Money,
    checked: int = 0,
    good: int = 0,
) -> float:
    """Return the chance that the lot's good bodies pay for `price`, processing and freight.

    ValueError where a good body is worth no more than its scrap: nothing can pay then.
    """
    gain = worth.good_body - worth.scrap
    if gain <= 0:
        raise ValueError("a good body is worth no more than its scrap: no lot can pay")
    wrong = -int(-pieces * worth.wrong_share // 1)
    right = pieces - wrong
    fixed = right * (worth.scrap - worth.processing) + wrong * (worth.scrap - worth.receiving)
    needed = -((fixed - worth.freight - price) // gain)
    a, b = after_checking(*prior, checked, good)
    return min(1.0, at_least(beta_binomial(right - checked, a, b), needed - good))


def _verdict(chance: float, confidence: float, all_checked: bool) -> str:
    if chance >= confidence:
        return BUY
    # Worse than even: nobody goes on checking to be told so again. Our own habit, no source.
    return LEAVE if chance < 0.5 or all_checked else CHECK_MORE


def _told(now: Bid, checked: int, good: int, chance: float | None, verdict: str | None) -> str:
    told = (
        f"{good} good of {checked} checked: {shown(now.per_piece)} a piece, {shown(now.total)} in"
        f" all, with {percent(now.confidence)} confidence"
    )
    if checked == 0:
        told = f"nothing checked yet: {shown(now.per_piece)} a piece, {shown(now.total)} in all"
    if chance is None or verdict is None:
        return told
    return f"{told}; at the asking price the chance of not losing is {percent(chance)}: {verdict}"
