"""The bands of a check as a picture with its readings in it, and distances in gauge divisions.

Places are thousandths of the picture's width; nothing here is judged, it only shows where the
bands of `bands` lie.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from coretrack.figures.bands import Bands, bands_of
from coretrack.figures.conformance import inside
from coretrack.figures.judging import with_unit
from coretrack.figures.limits import decimal_places, describe_limits, plain_text
from coretrack.figures.numbers import half_up
from coretrack.figures.plans import Check

WIDTH = 1000
MARGIN = Fraction(3, 10)
"""How much wider than its limits the picture is, on each side."""

ROWS = 4
"""So many rows there are for the sizes of limits; four limits close together stay readable."""

LETTER = 15
"""About the width of a letter of a band's name."""

CROWDED = 170
"""Closer than this two limits cannot stand beside one another."""


@dataclass(frozen=True)
class Zone:
    """A stretch of the picture: new, usable, rework, discard, or grey (too close to call)."""

    kind: str
    start: int
    end: int
    text: str = ""

    @property
    def width(self) -> int:
        """How wide it is."""
        return self.end - self.start

    @property
    def narrow(self) -> bool:
        """Whether its name is too wide for it and stands below."""
        return bool(self.text) and self.width <= len(self.text) * LETTER

    @property
    def middle(self) -> int:
        """Where its name stands."""
        return (self.start + self.end) // 2


@dataclass(frozen=True)
class Tick:
    """A limit: where it lies, its size, and the row (from 0) in which that can be written."""

    place: int
    text: str
    row: int


@dataclass(frozen=True)
class Pointer:
    """A reading; `beyond` is -1 or 1 when it lies outside the picture on that side."""

    place: int
    text: str
    newest: bool
    beyond: int = 0


@dataclass(frozen=True)
class BandPicture:
    """The whole picture; `said` describes it in words."""

    zones: tuple[Zone, ...]
    ticks: tuple[Tick, ...]
    pointers: tuple[Pointer, ...]
    said: str

    @property
    def rows(self) -> int:
        """How many rows of limit sizes there are."""
        return max((tick.row for tick in self.ticks), default=0) + 1

    @property
    def narrow(self) -> tuple[Zone, ...]:
        """The bands whose names stand below the sizes of limits."""
        return tuple(zone for zone in self.zones if zone.narrow)


def band_picture(
    check: Check, values: Sequence[int] = (), refused: Collection[str] = ()
) -> BandPicture | None:
    """Return the picture of a numeric check's bands with `values` (millionths) in it.

    The last value is the newest. `None` where the check has no limits to draw.
    """
    if not check.numeric or check.usable is None:
        return None
    bands = bands_of(check, refused)
    ends = sorted(_ends(check, bands))
    if not ends:
        return None
    low, high = _shown(ends, values, check.resolution or 1)
    scale = _Scale(low, high)
    zones = _zones(check, bands, ends, scale)
    pointers = tuple(
        _pointer(check, value, scale, newest=index == len(values) - 1)
        for index, value in enumerate(values)
    )
    limits = f"{check.name}: usable {describe_limits(check.usable, check.unit, check.resolution)}"
    parts = [limits]
    for band in bands.rework:
        parts.append(
            f"{band.operation} {describe_limits(band.limits, check.unit, check.resolution)}"
        )
    if values:
        parts.append("read " + ", ".join(with_unit(check, value) for value in values))
    return BandPicture(zones, _ticks(check, ends, scale), pointers, "; ".join(parts) + ".")


def gauge_divisions(check: Check, distance: int) -> str:
    """Return a distance (millionths) in the divisions the gauge shows, "" where none are known.

    Half-up to a tenth of a division; less than that is said so, since it is still a distance.
    """
    if not check.resolution or distance == 0:
        return ""
    exact = Fraction(abs(distance), check.resolution)
    tenths = half_up(exact * 10)
    if tenths == 0:
        return "less than a tenth of a gauge division"
    text = plain_text(tenths * 100_000)
    return f"{text} gauge division{'' if text == '1' else 's'}"


@dataclass(frozen=True)
class _Scale:
    low: Fraction
    high: Fraction

    def at(self, value: int | Fraction) -> int:
        """Return where a size lies, inside the picture always."""
        place = half_up((Fraction(value) - self.low) * WIDTH / (self.high - self.low))
        return min(max(place, 0), WIDTH)


def _ends(check: Check, bands: Bands) -> set[int]:
    found = {end for end in (bands.usable.lower, bands.usable.upper) if end is not None}
    for band in bands.rework:
        found |= {end for end in (band.limits.lower, band.limits.upper) if end is not None}
    if check.new is not None:
        found |= {end for end in (check.new.lower, check.new.upper) if end is not None}
    return found


def _shown(
    ends: Sequence[int], values: Sequence[int], resolution: int
) -> tuple[Fraction, Fraction]:
    """Return both ends of the scale; a reading far off does not squeeze the bands together."""
    low, high = Fraction(ends[0]), Fraction(ends[-1])
    span = high - low or max(Fraction(abs(ends[0]), 5), Fraction(10 * resolution))
    far = [value for value in values if low - span <= value <= high + span]
    low = min([low - span * MARGIN, *(value - span / 20 for value in far)])
    high = max([high + span * MARGIN, *(value + span / 20 for value in far)])
    return low, high


def _zones(check: Check, bands: Bands, ends: Sequence[int], scale: _Scale) -> tuple[Zone, ...]:
    edges = [scale.low, *(Fraction(end) for end in ends), scale.high]
    found: list[Zone] = []
    for start, end in pairwise(edges):
        kind, text = _kind(check, bands, (start + end) / 2)
        if found and (found[-1].kind, found[-1].text) == (kind, text):
            found[-1] = Zone(kind, found[-1].start, scale.at(end), text)
        else:
            found.append(Zone(kind, scale.at(start), scale.at(end), text))
    if not bands.uncertainty:
        return tuple(found)
    doubtful = []
    for one, other in pairwise(found):
        if {one.kind, other.kind} != {"new", "usable"}:
            limit = next(end for end in ends if scale.at(end) == one.end)
            around = (scale.at(limit - bands.uncertainty), scale.at(limit + bands.uncertainty))
            doubtful.append(Zone("grey", *around))
    return (*found, *doubtful)


def _kind(check: Check, bands: Bands, value: Fraction) -> tuple[str, str]:
    if inside(value, bands.usable):
        return ("new", "new") if inside(value, check.new) else ("usable", "usable")
    for band in bands.rework:
        if inside(value, band.limits):
            return "rework", band.operation
    return "discard", "discard"


def _ticks(check: Check, ends: Sequence[int], scale: _Scale) -> tuple[Tick, ...]:
    places = max(decimal_places(size) for size in (*ends, check.resolution or 0))
    ticks: list[Tick] = []
    last = [-WIDTH] * ROWS
    for end in ends:
        place = scale.at(end)
        free = (row for row in range(ROWS) if place - last[row] >= CROWDED)
        row = next(free, ROWS - 1)
        if place - last[row] >= CROWDED:
            ticks.append(Tick(place, plain_text(end, places), row))
            last[row] = place
        else:
            ticks.append(Tick(place, "", row))
    return tuple(ticks)


def _pointer(check: Check, value: int, scale: _Scale, *, newest: bool) -> Pointer:
    beyond = -1 if value < scale.low else 1 if value > scale.high else 0
    return Pointer(scale.at(value), with_unit(check, value), newest, beyond)
