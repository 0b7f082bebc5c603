"""Where one reading lies among usable, reworkable and discard, with or without a grey zone.

The direction of proof follows ISO 14253-1. With the expanded uncertainty U of a guarded check
(U counts as 0 under the simple rule):

* usable is proven inside the usable limits shrunk by U, and possible inside them widened by U;
* saved (usable, or reworkable by an operation still allowed) is proven inside the joined usable
  and rework bands shrunk by U, and possible inside them widened by U;
* rework is therefore proven only when usable is ruled out and saved is proven; discard only
  when saved is ruled out; everything between is undecided.

Limits are exact and inclusive; readings may be fractions (a mean) and are never rounded here.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.conformance import acceptance_limits, inside, rejection_limits
from coretrack.figures.plans import Check, ReworkBand
from coretrack.figures.tolerances import Limits

USABLE, REWORK, DISCARD = 0, 1, 2
"""How bad a reading is, from best to worst."""


@dataclass(frozen=True)
class Placed:
    """A reading with the best and the worst it can truly be (USABLE, REWORK, DISCARD)."""

    value: Fraction
    best: int
    worst: int


@dataclass(frozen=True)
class Bands:
    """The bands of one check for one body: usable, the rework still allowed, and their join."""

    usable: Limits
    rework: tuple[ReworkBand, ...]
    saved: tuple[Limits, ...]
    uncertainty: int

    def place(self, value: Fraction) -> Placed:
        """Return the best and the worst that `value` can be."""
        best = worst = DISCARD
        if any(inside(value, self._widened(limits)) for limits in self.saved):
            best = REWORK
        if inside(value, self._widened(self.usable)):
            best = USABLE
        if any(inside(value, self._shrunk(limits)) for limits in self.saved):
            worst = REWORK
        if inside(value, self._shrunk(self.usable)):
            worst = USABLE
        return Placed(value, best, worst)

    def proven_new(self, check: Check, value: Fraction) -> bool:
        """Return whether `value` is proven inside the limits of a new part."""
        return check.new is not None and inside(value, self._shrunk(check.new))

    def operations_for(self, values: Sequence[Fraction]) -> tuple[str, ...]:
        """Return the operation that saves every one of `values`, else one for each of them.

        The plan's order is the order of preference; an operation whose band surely holds the
        reading goes before one whose band only seems to.
        """
        together = self._one_for(values)
        if together:
            return (together,)
        each = [self._one_for((value,)) for value in values]
        return tuple(dict.fromkeys(operation for operation in each if operation))

    def hull(self) -> Limits:
        """Return the joined band that holds the usable limits."""
        return next(limits for limits in self.saved if _overlap(limits, self.usable))

    def _one_for(self, values: Sequence[Fraction]) -> str:
        for band in self.rework:
            if _holds(self._shrunk(band.limits), values):
                return band.operation
        for band in self.rework:
            if _holds(band.limits, values):
                return band.operation
        return ""

    def _shrunk(self, limits: Limits) -> Limits | None:
        return acceptance_limits(limits, self.uncertainty)

    def _widened(self, limits: Limits) -> Limits:
        return rejection_limits(limits, self.uncertainty)


def bands_of(check: Check, refused: Collection[str] = ()) -> Bands:
    """Return the bands of a numeric `check`, leaving out the operations in `refused`.

    ValueError when the check has no usable limits.
    """
    if check.usable is None:
        raise ValueError(f"{check.name} has no usable limits, so no reading can be judged")
    closed = closed_up(check.usable, check.rework, check.resolution or 0)
    allowed = tuple(band for band in closed if band.operation not in refused)
    guard = check.uncertainty if check.rule == "guarded" else 0
    joined = _joined([check.usable, *(band.limits for band in allowed)])
    return Bands(check.usable, allowed, joined, guard)


def closed_up(
    usable: Limits, bands: Sequence[ReworkBand], resolution: int
) -> tuple[ReworkBand, ...]:
    """Return `bands` with gaps of up to one gauge resolution closed, in the same order.

    A plan writes usable to 6.009 and rework from 6.010; a mean of 6.0095 belongs to the rework.
    """
    found: dict[int, ReworkBand] = {}
    top, bottom = usable.upper, usable.lower
    for index in sorted(range(len(bands)), key=lambda i: _floor(bands[i].limits)):
        lower, upper = bands[index].limits.lower, bands[index].limits.upper
        if top is not None and lower is not None and 0 < lower - top <= resolution:
            lower = top
        if top is not None and (lower is None or lower <= top):
            top = None if upper is None else max(top, upper)
        found[index] = ReworkBand(bands[index].operation, Limits(lower, upper))
    for index in sorted(found, key=lambda i: _ceiling(bands[i].limits), reverse=True):
        lower, upper = found[index].limits.lower, found[index].limits.upper
        if bottom is not None and upper is not None and 0 < bottom - upper <= resolution:
            upper = bottom
        if bottom is not None and (upper is None or upper >= bottom):
            bottom = None if lower is None else min(bottom, lower)
        found[index] = ReworkBand(bands[index].operation, Limits(lower, upper))
    return tuple(found[index] for index in range(len(bands)))


def gap_beside(usable: Limits, bands: Sequence[ReworkBand], resolution: int) -> ReworkBand | None:
    """Return a band that a gap separates from the others, `None` when all join the usable band."""
    closed = closed_up(usable, bands, resolution)
    joined = _joined([usable, *(band.limits for band in closed)])
    main = next(limits for limits in joined if _overlap(limits, usable))
    return next((band for band in closed if not _overlap(band.limits, main)), None)


def _joined(pieces: Sequence[Limits]) -> tuple[Limits, ...]:
    joined: list[Limits] = []
    for piece in sorted(pieces, key=_floor):
        if joined and _overlap(joined[-1], piece):
            last = joined.pop()
            upper = (
                None if last.upper is None or piece.upper is None else max(last.upper, piece.upper)
            )
            joined.append(Limits(last.lower, upper))
        else:
            joined.append(piece)
    return tuple(joined)


def _overlap(one: Limits, other: Limits) -> bool:
    return (one.upper is None or other.lower is None or other.lower <= one.upper) and (
        other.upper is None or one.lower is None or one.lower <= other.upper
    )


def _floor(limits: Limits) -> tuple[int, int]:
    return (0, 0) if limits.lower is None else (1, limits.lower)


def _ceiling(limits: Limits) -> tuple[int, int]:
    return (1, 0) if limits.upper is None else (0, limits.upper)


def _holds(limits: Limits | None, values: Sequence[Fraction]) -> bool:
    return all(inside(value, limits) for value in values)
