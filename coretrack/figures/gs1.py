"""GS1 element strings and GTINs, read through biip, with errors in plain words.

Rules: GS1 General Specifications. Element strings of variable length end at a separator (FNC1,
sent as the control sign 1D) or at the end of the symbol. A lost separator cannot be detected by
syntax, so it is suspected, never repaired: the possible readings are offered in brackets form.
Two-digit years are placed by biip: at most 49 years back and 50 years ahead of today.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from stdnum import ean

from coretrack.figures.tags import only_digits

SEPARATOR = "\x1d"

GTIN, SERIAL, LOT = "01", "21", "10"
PART_NUMBERS = ("241", "240")
"""Identifiers of part numbers: the customer's part number, an additional item number."""

_NAMES = {
    "00": "shipping container code",
    "01": "GTIN",
    "02": "GTIN of the contents",
    "10": "lot",
    "11": "production date",
    "12": "due date",
    "13": "packaging date",
    "15": "best-before date",
    "16": "sell-by date",
    "17": "expiry date",
    "20": "variant",
    "21": "serial",
    "30": "count",
    "37": "count of the contents",
    "240": "additional item number",
    "241": "customer's part number",
    "250": "second serial",
    "251": "reference to source",
}
# Identifiers that may follow on one label of a part. Only these are looked for inside a field
# that may have run on into the next one; every identifier there is would raise false alarms.
_MAY_FOLLOW = ("01", "10", "11", "13", "17", "21", "30", "37", "240", "241", "250")
_VARIABLE = ("10", "21", "30", "37", "240", "241", "250", "251")
_DATES = ("11", "12", "13", "15", "16", "17")
_STAND_IN = re.compile(r"[|~^{}\[\]@#$`\\ \u241d]")
_SPELLED_OUT = re.compile(
    r"[<\[{(](?:GS|FNC1|F1)[>\]})]|\^\]|\\(?:x1d|u001d|035|F)|%1D|&#29;", re.IGNORECASE
)


class BadGs1(ValueError):
    """The text is no readable GS1 data; the message says where reading stopped and why."""


@dataclass(frozen=True)
class Element:
    """One element string: identifier, its name, the data as text, and the day of a date."""

    identifier: str
    name: str
    value: str
    day: date | None = None


@dataclass(frozen=True)
class Gs1Data:
    """What a GS1 message holds; `faults` are wrong check digits inside."""

    elements: tuple[Element, ...]
    faults: tuple[str, ...] = ()

    def get(self, identifier: str) -> str | None:
        """Return the data of the first element with this identifier, None when there is none."""
        return next((e.value for e in self.elements if e.identifier == identifier), None)

    @property
    def in_brackets(self) -> str:
        """The form printed under a symbol, (01)…(21)…, which needs no separators."""
        return "".join(f"({e.identifier}){e.value}" for e in self.elements)


def parse_gs1(text: str, separators: Iterable[str] = (SEPARATOR,)) -> Gs1Data:
    """Return the element strings of scanned GS1 data; BadGs1 when it cannot be read."""
    from biip import ParseConfig, ParseError
    from biip.gs1_messages import GS1Message

    signs = tuple(separators)
    body = text.strip("".join(signs) + " ").strip()
    if not body:
        raise BadGs1("There is no data in this GS1 code.")
    try:
        message = GS1Message.parse(body, config=ParseConfig(separator_chars=signs))
    except ParseError as error:
        raise BadGs1(_explained(body, signs)) from error
    return _data(message.element_strings)


def parse_brackets(text: str) -> Gs1Data:
    """Return the element strings of the printed form (01)…(21)…; BadGs1 when it is not that."""
    from biip import ParseError
    from biip.gs1_messages import GS1Message

    if not re.fullmatch(r"(\s*\(\d{2,4}\)[^()]+)+", text):
        raise BadGs1("The form printed under a symbol is (01)… with an identifier in each bracket.")
    try:
        message = GS1Message.parse_hri(text)
    except ParseError as error:
        for identifier, value in re.findall(r"\((\d+)\)([^(]+)", text):
            _check_element(identifier, "".join(value.split()))
        raise BadGs1(f"'{text}' cannot be read as GS1 data.") from error
    return _data(message.element_strings)


def lost_separator(data: Gs1Data) -> tuple[Gs1Data, ...]:
    """Return the other readings of `data` if a separator was lost in it, likeliest first.

    Only for data that arrived without any separator: then a last field of variable length may
    hold the next field. Empty when nothing of the kind fits.
    """
    *before, last = data.elements or (Element("", "", ""),)
    if last.identifier not in _VARIABLE:
        return ()
    taken = {element.identifier for element in data.elements}
    readings = []
    for place in range(1, len(last.value)):
        rest = last.value[place:]
        if not rest.startswith(tuple(i for i in _MAY_FOLLOW if i not in taken)):
            continue
        head = Element(last.identifier, last.name, last.value[:place])
        try:
            tail = parse_gs1(rest)
        except BadGs1:
            continue
        if not tail.faults and _fits(head) and not taken & {e.identifier for e in tail.elements}:
            readings.append(Gs1Data((*before, head, *tail.elements), data.faults))
    # The longer the first field, the fewer digits of it have to be taken for an identifier.
    return tuple(reversed(readings))


def stand_in_separator(text: str) -> tuple[str, Gs1Data] | None:
    """Return what seems to stand for the separator (a bar, `<GS>`) and the data so read.

    Looked for are spelled-out names of the separator and signs that cannot occur in GS1 data.
    None when there is none or the data does not fit.
    """
    for sign in dict.fromkeys([*_SPELLED_OUT.findall(text), *_STAND_IN.findall(text)]):
        try:
            return sign, parse_gs1(text.replace(sign, SEPARATOR))
        except BadGs1:
            continue
    return None


def starts_like_gs1(text: str) -> bool:
    """Return whether unmarked text begins as GS1 data does, surely enough to read it as that.

    A GTIN with a right check digit behind 01 or 02, a container code behind 00, separators inside,
    or more than 20 digits and letters behind an identifier of parts: no part number is that long.
    """
    if text.startswith(("01", "02")) and is_gtin(text[2:16]) and len(text[2:16]) == 14:
        return True
    if text.startswith("00") and len(text) == 20 and only_digits(text):
        return gtin_check_digit(text[2:-1]) == text[-1]
    long_enough = len(text) > 20 and text[:20].isalnum() and text.isascii()
    return text.startswith(_MAY_FOLLOW) and (SEPARATOR in text or long_enough)


def gtin_check_digit(payload: str) -> str:
    """Return the GS1 check digit (mod 10, weights 3 and 1 from the right) of digits."""
    if not only_digits(payload):
        raise BadGs1(f"'{payload}' must be digits only.")
    return str(ean.calc_check_digit(payload))


def is_gtin(text: str) -> bool:
    """Return whether `text` is 8, 12, 13 or 14 digits with a right GS1 check digit."""
    return (
        len(text) in (8, 12, 13, 14)
        and only_digits(text)
        and gtin_check_digit(text[:-1]) == text[-1]
    )


def gtin_forms(gtin: str) -> tuple[str, ...]:
    """Return one GTIN in all its lengths, 14 digits first: leading zeros do not change it."""
    whole = gtin.zfill(14)
    return tuple(whole[14 - size :] for size in (14, 13, 12, 8) if set(whole[: 14 - size]) <= {"0"})


def eleven_digits(text: str) -> tuple[str, ...]:
    """Return the twelve-digit numbers that eleven digits may have been.

    First with the leading zero put back (if the check digit then fits), then with the check digit
    put back. Empty for anything but eleven digits.
    """
    if len(text) != 11 or not only_digits(text):
        return ()
    restored = [f"0{text}"] if is_gtin(f"0{text}") else []
    return (*restored, text + gtin_check_digit(text))


def restored_gtins(text: str) -> tuple[str, ...]:
    """Return the GTINs, as fourteen digits, that a text of 6 to 13 digits may have been.

    With leading zeros put back (if the check digit then fits), or the check digit, or both.
    """
    if not 6 <= len(text) <= 13 or not only_digits(text):
        return ()
    whole, restored = text.zfill(14), (text + gtin_check_digit(text)).zfill(14)
    return (whole, restored) if is_gtin(whole) else (restored,)


def _data(elements: Any) -> Gs1Data:
    faults = tuple(
        _fault(element)
        for element in elements
        if element.gtin_error or element.sscc_error or element.gln_error
    )
    return Gs1Data(
        tuple(
            Element(
                element.ai.ai,
                _NAMES.get(element.ai.ai, element.ai.data_title.lower() or element.ai.description),
                element.value,
                element.date,
            )
            for element in elements
        ),
        faults,
    )


def _fault(element: Any) -> str:
    name = _NAMES.get(element.ai.ai, element.ai.data_title)
    if only_digits(element.value):
        digit = gtin_check_digit(element.value[:-1])
        if digit != element.value[-1]:
            return f"The check digit of the {name} {element.value} is wrong; it would be {digit}."
    return f"The {name} {element.value} is not a possible one."


def _fits(element: Element) -> bool:
    try:
        _check_element(element.identifier, element.value)
    except BadGs1:
        return False
    return True


def _check_element(identifier: str, value: str) -> None:
    """Raise BadGs1 when `value` cannot stand behind `identifier`."""
    from biip import ParseError
    from biip.gs1_application_identifiers import GS1ApplicationIdentifier
    from biip.gs1_element_strings import GS1ElementString

    try:
        known = GS1ApplicationIdentifier.extract(identifier).ai == identifier
    except ParseError:
        known = False
    if not known:
        raise BadGs1(f"GS1 data has no identifier ({identifier}).")
    try:
        GS1ElementString.parse(identifier + value)
    except ParseError as error:
        name = _NAMES.get(identifier)
        what = f"the {name} ({identifier})" if name else f"the identifier ({identifier})"
        raise BadGs1(f"'{value}' cannot stand behind {what}.") from error


def _explained(body: str, signs: tuple[str, ...]) -> str:
    """Return where reading `body` stops, and why."""
    from biip import ParseConfig, ParseError
    from biip.gs1_element_strings import GS1ElementString

    config = ParseConfig(separator_chars=signs)
    rest, read = body, ""
    while rest:
        try:
            element = GS1ElementString.extract(rest, config=config)
        except ParseError:
            break
        read = f" after ({element.ai.ai}){element.value}"
        rest = rest[len(element) :].lstrip("".join(signs))
    shown = "".join(sign if sign.isprintable() else " " for sign in rest[:20])
    if rest[:2] in _DATES and only_digits(rest[2:8]) and len(rest) >= 8:
        return f"GS1 data cannot be read{read}: the {_NAMES[rest[:2]]} {rest[2:8]} is no day."
    hint = "" if any(sign in body for sign in signs) else " No separator was seen: one may be lost."
    return f"GS1 data cannot be read{read}: '{shown}' begins no known field.{hint}"
