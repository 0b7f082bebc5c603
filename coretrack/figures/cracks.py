"""What is told of a crack indication: its kind, its length, and where on the body it lies.

The kinds are words of the trade; linear and rounded are those of the methods' standards (a linear
indication is more than three times as long as wide: common practice, from memory). A place is a
word, or a mark on the picture of the family's body in thousandths of its width and height; zones
1 to 9 are its thirds, read like a page.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from coretrack.figures.limits import plain_text, to_micro
from coretrack.figures.numbers import NotANumber, clean_text, parse_number
from coretrack.figures.units import UnknownUnit, convert, dimension_of, split_quantity

KINDS = ("crack", "linear", "rounded", "pit", "porosity", "leak", "other")
LONGEST_MM = 2000
"""A longer indication on a body that a person carries is a slip of the point."""

THOUSAND = 1000
ZONES = tuple(str(zone) for zone in range(1, 10))

_LENGTH = re.compile(r"(?a)(?<![\w.,])\d[\d.,]*\s*(?:mm|cm|µm|um|in\.?|thou|\")(?![\w])")
_BEFORE_PLACE = re.compile(r"^(?:(?:at|on|in|near)\b\s*)?(?:the\b\s*)?", re.IGNORECASE)
_PLACE_WORDS = ("at ", "on ", "in ", "near ")
_ZONE = re.compile(r"^zone\s*([1-9])$", re.IGNORECASE)


class BadLength(ValueError):
    """The text is no length of an indication; `str()` says what would be right."""


@dataclass(frozen=True)
class Crack:
    """What is told of one indication.

    `length` is as typed ("" when it was not measured), `micro_mm` the same in millionths of a
    millimetre. `place` is a word or a zone's number; `x` and `y` are the mark, in thousandths, on
    the picture with the hash `picture`. `photo` is the hash of a photo of the core.
    """

    kind: str = ""
    length: str = ""
    micro_mm: int | None = None
    place: str = ""
    x: int | None = None
    y: int | None = None
    picture: str = ""
    photo: str = ""

    @property
    def marked(self) -> bool:
        """Whether it is marked on a picture of the body."""
        return self.x is not None and self.y is not None

    @property
    def told(self) -> bool:
        """Whether anything is told of it."""
        return self != Crack()

    def to_dict(self) -> dict[str, Any]:
        """Return what is told as plain JSON values; what is not told is left out."""
        return {name: value for name, value in asdict(self).items() if value not in ("", None)}


def crack_from_dict(told: Mapping[str, Any]) -> Crack:
    """Return the crack that `to_dict` wrote."""
    return Crack(**told)


def read_length(text: str) -> tuple[str, int | None]:
    """Return a length as typed and in millionths of a millimetre; ("", None) when not measured.

    Without a unit it is millimetres. Raises BadLength.
    """
    plain = clean_text(text)
    if not plain or plain.casefold() in ("not measured", "-", "–", "?"):
        return "", None
    right = "write the length in millimetres, such as 4 or 4.5, or leave it empty"
    number, unit = split_quantity(plain)
    try:
        if unit and dimension_of(unit) != "length":
            raise BadLength(f"{unit} is no unit of length; {right}")
        value = convert(parse_number(number, comma_is_decimal=True), unit or "mm", "mm")
    except (NotANumber, UnknownUnit) as error:
        raise BadLength(f"{error}; {right}") from None
    if not 0 < value <= LONGEST_MM:
        raise BadLength(f"An indication is longer than 0 and at most {LONGEST_MM} mm; {right}")
    return plain, to_micro(value)


def read_told(text: str) -> Crack:
    """Return what a line such as "linear 4 mm at the seat" tells; all the rest is the place."""
    rest = " ".join(text.split())
    kind, length, micro_mm = "", "", None
    word, _, after = rest.partition(" ")
    if word.casefold().strip(",;:") in KINDS:
        kind, rest = word.casefold().strip(",;:"), after
    if found := _LENGTH.search(rest):
        try:
            length, micro_mm = read_length(found[0])
            rest = f"{rest[: found.start()]} {rest[found.end() :]}"
        except BadLength:
            pass  # what is no length stays in the words, as typed
    place = _BEFORE_PLACE.sub("", " ".join(rest.split()).strip(" ,;:.-–")).strip()
    zone = _ZONE.match(place)
    return Crack(kind, length, micro_mm, zone[1] if zone else place)


def in_zone(crack: Crack, picture: str) -> Crack:
    """Return the crack marked in the middle of its zone, where its place is a zone's number."""
    if crack.marked or crack.place not in ZONES or not picture:
        return crack
    x, y = zone_middle(crack.place)
    return Crack(**{**asdict(crack), "x": x, "y": y, "picture": picture})


def zone_middle(zone: str) -> tuple[int, int]:
    """Return the middle of a zone of the picture, in thousandths."""
    row, column = divmod(int(zone) - 1, 3)
    return (2 * column + 1) * THOUSAND // 6, (2 * row + 1) * THOUSAND // 6


def zone_at(x: int, y: int) -> str:
    """Return the zone in which a mark lies."""
    column, row = min(2, x * 3 // THOUSAND), min(2, y * 3 // THOUSAND)
    return str(row * 3 + column + 1)


def crack_words(crack: Crack) -> str:
    """Return what is told in a few words: "linear, 4 mm, at seat, marked in zone 5"."""
    parts = [crack.kind] if crack.kind else []
    if crack.micro_mm is not None:
        parts.append(f"{plain_text(crack.micro_mm)} mm")
    elif crack.told:
        parts.append("length not measured")
    if crack.place and crack.place not in ZONES:
        # A place may have been typed with its word: "at seat", "on the rim".
        worded = crack.place.casefold().startswith(_PLACE_WORDS)
        parts.append(crack.place if worded else f"at {crack.place}")
    if crack.x is not None and crack.y is not None:
        parts.append(f"marked in zone {zone_at(crack.x, crack.y)}")
    elif crack.place in ZONES:
        parts.append(f"in zone {crack.place}")
    return ", ".join(parts)
