"""What a bought lot was expected to give against what it gave, and a scorecard of its source.

The range of good bodies is what Beta(a, b) at the time of the bid says of the lot's decided pieces.
What the lot was worth is G K + s (n - K) - c n - freight - price: what is left against buying the
same good bodies elsewhere. Derived.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from fractions import Fraction

from coretrack.figures.discrete import beta_binomial, binomial, quantile
from coretrack.figures.intervals import Interval, check_level
from coretrack.figures.money import Money, shown, whole
from coretrack.figures.plain_words import counted, percent
from coretrack.figures.yields import Batch, Counts, YieldRow, yield_row

LEVEL = 0.8
"""A lot is expected inside the range in which four of five such lots end."""

INSIDE, BELOW, ABOVE = "as expected", "below its range", "above its range"


@dataclass(frozen=True)
class LotBought:
    """A bought lot. `paid` is price and freight, `processed` what putting it through cost so far
    and `recovered` what scrap brought less disposal, all on its decided pieces (ten-thousandths).

    `promised` pieces by its paper, `received` counted, `wrong` of a family nobody ordered;
    `expected` is the yield it was bought for and `prior` the (a, b) of the bid, `None` if none was
    kept. `good_body` is G on the day of the bid.
    """

    lot: str
    source: str
    received_on: str
    counts: Counts
    paid: Money
    processed: Money
    recovered: Money
    promised: int | None = None
    received: int | None = None
    wrong: int = 0
    expected: Fraction | None = None
    prior: tuple[float, float] | None = None
    good_body: Money | None = None


@dataclass(frozen=True)
class LotResult:
    """Predicted against actual. Unknown figures are `None`; `why` says what lacks.

    `low` and `high` bound the good bodies among the decided pieces in four of five such lots,
    `verdict` says where the lot ended, `luck` is the chance of so few or fewer. `cost_per_good` and
    `gain` (against G, negative when the lot lost) are ten-thousandths. `short` pieces were promised
    and did not come (negative: more came).
    """

    lot: str
    source: str
    received_on: str
    yields: YieldRow
    expected: Fraction | None
    low: int | None
    high: int | None
    verdict: str | None
    luck: float | None
    cost_per_good: Money | None
    gain: Money | None
    short: int | None
    wrong: int
    sentence: str
    why: str | None = None


def lot_result(lot: LotBought, level: float = LEVEL) -> LotResult:
    """Return how `lot` did. ValueError for an expected yield outside 0..1."""
    check_level(level)
    yields = yield_row(lot.lot, lot.counts, noun="piece")
    decided, good = lot.counts.decided, lot.counts.good
    low = high = luck = verdict = None
    why = _lacking(lot)
    chances = _chances(lot)
    if chances is not None and decided:
        low, high = quantile(chances, (1 - level) / 2), quantile(chances, (1 + level) / 2)
        luck = min(1.0, sum(chances[: good + 1]))
        verdict = BELOW if good < low else ABOVE if good > high else INSIDE
    cost = gain = None
    net = lot.paid + lot.processed - lot.recovered
    if good:
        cost = whole(Fraction(net, good))
    if decided and lot.good_body is not None:
        gain = lot.good_body * good - net
    short = None
    if lot.promised is not None and lot.received is not None:
        short = lot.promised - lot.received
    return LotResult(
        lot=lot.lot,
        source=lot.source,
        received_on=lot.received_on,
        yields=yields,
        expected=_expected(lot),
        low=low,
        high=high,
        verdict=verdict,
        luck=luck,
        cost_per_good=cost,
        gain=gain,
        short=short,
        wrong=lot.wrong,
        sentence=_told(lot, low, high, verdict, gain, yields),
        why=why,
    )


def _lacking(lot: LotBought) -> str | None:
    if lot.counts.decided == 0:
        return "no piece of this lot has been decided yet"
    if lot.prior is None and lot.expected is None:
        return "no expectation was kept when the lot was bought"
    if lot.good_body is None:
        return "a good body had no value on that day"
    return None


def _expected(lot: LotBought) -> Fraction | None:
    if lot.expected is not None:
        return lot.expected
    if lot.prior is None:
        return None
    return Fraction(lot.prior[0]) / Fraction(sum(lot.prior))


def _chances(lot: LotBought) -> list[float] | None:
    if lot.prior is not None:
        return beta_binomial(lot.counts.decided, *lot.prior)
    if lot.expected is not None:
        return binomial(lot.counts.decided, float(lot.expected))
    return None


def _told(
    lot: LotBought,
    low: int | None,
    high: int | None,
    verdict: str | None,
    gain: Money | None,
    yields: YieldRow,
) -> str:
    counts = lot.counts
    if counts.decided == 0:
        return f"{lot.lot}: {yields.why}"
    told = f"{lot.lot}: {counts.good} good of {counted(counts.decided, 'decided piece')}"
    if verdict is not None:
        told += f", expected {low} to {high}: {verdict}"
    if counts.open:
        told += f"; {counted(counts.open, 'piece')} still open"
    if gain is not None:
        word = "saved" if gain >= 0 else "lost"
        told += f"; {word} {shown(abs(gain))} against buying good bodies elsewhere"
    return told


@dataclass(frozen=True)
class SourceScore:
    """All lots of one source together. Unknown figures are `None`, `why` says what lacks.

    `inside` of `judged` lots ended in their range, `below` of them under it. `short_share` and
    `wrong_share` are of the pieces promised and received (0..1). `gain` adds up the lots that have
    one; `cost_per_good` is all net money over all good bodies.
    """

    source: str
    lots: int
    yields: YieldRow
    judged: int
    inside: int
    below: int
    cost_per_good: Money | None
    gain: Money | None
    short_share: float | None
    wrong_share: float | None
    last_on: str
    sentence: str
    why: str | None = None

    @property
    def interval(self) -> Interval:
        """The interval of the source's yield, lots taken together."""
        return self.yields.interval


def source_scores(lots: Sequence[LotBought], level: float = LEVEL) -> tuple[SourceScore, ...]:
    """Return one score for each source, by cost per good body, those without one last.

    A source's pieces are counted over all families it sent, so compare sources of the same trade.
    """
    sources: dict[str, list[LotBought]] = {}
    for lot in lots:
        sources.setdefault(lot.source, []).append(lot)
    scores = [_score(source, found, level) for source, found in sources.items()]
    return tuple(
        sorted(scores, key=lambda s: (s.cost_per_good is None, s.cost_per_good or 0, s.source))
    )


def _score(source: str, lots: Sequence[LotBought], level: float) -> SourceScore:
    results = [lot_result(lot, level) for lot in lots]
    counts = _sum(lots)
    yields = yield_row(source, counts, [_batch(lot) for lot in lots], noun="piece")
    good = counts.good
    net = sum(lot.paid + lot.processed - lot.recovered for lot in lots)
    verdicts = [result.verdict for result in results if result.verdict is not None]
    gains = [result.gain for result in results if result.gain is not None]
    promised = [lot for lot in lots if lot.promised and lot.received is not None]
    missing = sum((lot.promised or 0) - (lot.received or 0) for lot in promised)
    asked = sum(lot.promised or 0 for lot in promised)
    received = sum(lot.received or 0 for lot in lots)
    return SourceScore(
        source=source,
        lots=len(lots),
        yields=yields,
        judged=len(verdicts),
        inside=verdicts.count(INSIDE),
        below=verdicts.count(BELOW),
        cost_per_good=whole(Fraction(net, good)) if good else None,
        gain=sum(gains) if gains else None,
        short_share=missing / asked if asked else None,
        wrong_share=sum(lot.wrong for lot in lots) / received if received else None,
        last_on=max(lot.received_on for lot in lots),
        sentence=_score_told(source, lots, yields, verdicts),
        why=yields.why if not counts.decided else None,
    )


def _batch(lot: LotBought) -> Batch:
    return Batch(lot.lot, lot.counts.decided, lot.counts.good)


def _sum(lots: Sequence[LotBought]) -> Counts:
    names = [field.name for field in fields(Counts)]
    return Counts(**{name: sum(getattr(lot.counts, name) for lot in lots) for name in names})


def _score_told(
    source: str, lots: Sequence[LotBought], yields: YieldRow, verdicts: Sequence[str]
) -> str:
    if yields.body_yield is None:
        return f"{source}: {yields.why}"
    told = f"{source}: {percent(yields.body_yield)} good over {counted(len(lots), 'lot')}"
    if verdicts:
        told += f"; {verdicts.count(INSIDE)} of {counted(len(verdicts), 'lot')} ended as expected"
    if verdicts.count(BELOW):
        told += f", {verdicts.count(BELOW)} below"
    return told
