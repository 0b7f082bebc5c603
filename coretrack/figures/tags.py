"""The shop's own codes: a core's tag, and the codes of badges, reasons, bins, lots and orders.

All codes are digits only, so that they are short in Code 128 set C and survive any keyboard
layout, and end in two check digits by ISO/IEC 7064 MOD 97-10 (python-stdnum computes them).

- tag: site digit 1-8, serial of seven digits (nine once seven are used up), two check digits.
  No tag starts with 9: some label writers lose a leading 99.
- shop code: 0, 0, one digit for the kind, a number of five digits (seven when five are used up),
  two check digits. Two zeros in front keep clear of makers' numbers, which often start with one.

The check catches every wrong digit, every swap of neighbours and, by the length, every doubled or
missing digit.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from stdnum.iso7064 import mod_97_10

SITES = range(1, 9)
SHORT, LONG = 10, 12
"""How many digits a code has: the usual length, and the length once numbers have grown."""

KINDS = {
    "badge": "1",
    "reason": "2",
    "bin": "3",
    "basket": "4",
    "rack": "5",
    "lot": "6",
    "gauge": "7",
    "metal tag": "8",
    "order": "9",
}
"""The kinds of shop code and the digit that stands for each."""

ORDERS = {
    "done": 1,
    "undo": 2,
    "reprint": 3,
    "cancel": 4,
    "next": 5,
    "back": 6,
    "again": 7,
    "accept": 8,
    "refuse": 9,
    "hold": 10,
    "no indication": 11,
    "indication": 12,
    "unsure": 13,
}
"""What a scanned order tells the page to do, and its number; the numbers never change."""

_KIND_OF = {digit: kind for kind, digit in KINDS.items()}
_ORDER_OF = {number: order for order, number in ORDERS.items()}
_SERIAL_LIMITS = {SHORT: (0, 10**7 - 1), LONG: (10**7, 10**9 - 1)}
_NUMBER_LIMITS = {SHORT: (0, 10**5 - 1), LONG: (10**5, 10**7 - 1)}


class BadCode(ValueError):
    """The text is not one of the shop's own codes; the message says why."""


@dataclass(frozen=True)
class Tag:
    """A core's own number, taken apart."""

    text: str
    site: int
    serial: int


@dataclass(frozen=True)
class ShopCode:
    """A code of the shop that is no core: `order` is set when the kind is "order"."""

    text: str
    kind: str
    number: int
    order: str | None = None


def only_digits(text: str) -> bool:
    """Return whether `text` is one or more of the ten digits 0-9 (no other script's digits)."""
    return text.isascii() and text.isdigit()


def check_digits(payload: str) -> str:
    """Return the two check digits of a string of digits (ISO/IEC 7064 MOD 97-10)."""
    if not only_digits(payload):
        raise BadCode(f"'{payload}' must be digits only.")
    return str(mod_97_10.calc_check_digits(payload))


def has_valid_check(text: str) -> bool:
    """Return whether the last two digits of `text` are its check digits."""
    return len(text) > 2 and only_digits(text) and check_digits(text[:-2]) == text[-2:]


def make_tag(site: int, serial: int) -> str:
    """Return the tag of the `serial`-th core of `site` (1-8); BadCode when out of range."""
    if site not in SITES:
        raise BadCode(f"Site {site} is not possible; a site is a number from 1 to 8.")
    for low, high in _SERIAL_LIMITS.values():
        if low <= serial <= high:
            payload = f"{site}{serial:0{len(str(high))}d}"
            return payload + check_digits(payload)
    raise BadCode(f"Serial {serial} is not possible; it runs from 0 to 999999999.")


def parse_tag(text: str) -> Tag:
    """Return the parts of a tag written without spaces; BadCode says what is wrong with it."""
    _check_shape(text)
    if int(text[0]) not in SITES:
        raise BadCode(f"'{text}' starts with {text[0]}; a tag starts with its site, 1 to 8.")
    _check_check(text)
    serial = int(text[1:-2])
    _check_range(text, serial, _SERIAL_LIMITS[len(text)])
    return Tag(text, int(text[0]), serial)


def is_tag(text: str) -> bool:
    """Return whether `text` is a possible tag, check digits included."""
    try:
        parse_tag(text)
    except BadCode:
        return False
    return True


def make_shop_code(kind: str, number: int | str) -> str:
    """Return the code of `kind` with this number; for an order its name does as well.

    BadCode when the kind or the order is unknown or the number out of range (0 to 9999999).
    """
    if kind not in KINDS:
        raise BadCode(f"There is no code of kind '{kind}'; there are: {', '.join(KINDS)}.")
    if isinstance(number, str):
        if kind != "order" or number not in ORDERS:
            raise BadCode(f"There is no {kind} '{number}'; orders are: {', '.join(ORDERS)}.")
        number = ORDERS[number]
    if kind == "order" and number not in _ORDER_OF:
        raise BadCode(f"There is no order number {number}.")
    for low, high in _NUMBER_LIMITS.values():
        if low <= number <= high:
            payload = f"00{KINDS[kind]}{number:0{len(str(high))}d}"
            return payload + check_digits(payload)
    raise BadCode(f"Number {number} is not possible; a {kind} runs from 0 to 9999999.")


def parse_shop_code(text: str) -> ShopCode:
    """Return the parts of a shop code; BadCode says what is wrong with it."""
    _check_shape(text)
    if not text.startswith("00"):
        raise BadCode(f"'{text}' does not start with 00, as the shop's other codes do.")
    kind = _KIND_OF.get(text[2])
    if kind is None:
        raise BadCode(f"'{text}' is of a kind ({text[2]}) that does not exist.")
    _check_check(text)
    number = int(text[3:-2])
    _check_range(text, number, _NUMBER_LIMITS[len(text)])
    if kind != "order":
        return ShopCode(text, kind, number)
    if number not in _ORDER_OF:
        raise BadCode(f"'{text}' is an order that does not exist (number {number}).")
    return ShopCode(text, kind, number, _ORDER_OF[number])


def is_shop_code(text: str) -> bool:
    """Return whether `text` is one of the shop's codes that is no tag."""
    try:
        parse_shop_code(text)
    except BadCode:
        return False
    return True


def is_own_code(text: str) -> bool:
    """Return whether `text` is a tag or another code of the shop."""
    return is_tag(text) or is_shop_code(text)


def show_tag(text: str) -> str:
    """Return a tag or shop code in groups of four digits: 1000 0042 35."""
    return " ".join(text[start : start + 4] for start in range(0, len(text), 4))


def nearest_tags(text: str) -> Iterator[str]:
    """Yield the possible tags one slip away: a wrong, missing or extra digit, or a swap.

    Nothing is said about whether a core carries them. In order: extra digit taken out, swapped
    digits, missing digit put in, wrong digit; each tag once.
    """
    seen = {text}
    for changed in _one_slip_away(text) if only_digits(text) else ():
        if changed not in seen and is_tag(changed):
            seen.add(changed)
            yield changed


def _one_slip_away(text: str) -> Iterator[str]:
    size = len(text)
    if size in (SHORT + 1, LONG + 1):
        yield from (text[:i] + text[i + 1 :] for i in range(size))
    if size in (SHORT, LONG):
        yield from (text[:i] + text[i + 1] + text[i] + text[i + 2 :] for i in range(size - 1))
        yield from (text[:i] + d + text[i + 1 :] for i in range(size) for d in "0123456789")
    if size in (SHORT - 1, LONG - 1):
        yield from (text[:i] + d + text[i:] for i in range(size + 1) for d in "0123456789")


def _check_shape(text: str) -> None:
    if not only_digits(text):
        raise BadCode(f"'{text}' is not all digits, as the shop's own codes are.")
    if len(text) not in (SHORT, LONG):
        raise BadCode(f"'{text}' has {len(text)} digits; the shop's codes have {SHORT} or {LONG}.")


def _check_check(text: str) -> None:
    if not has_valid_check(text):
        raise BadCode(f"The check digits of '{show_tag(text)}' do not fit: a digit is wrong.")


def _check_range(text: str, number: int, limits: tuple[int, int]) -> None:
    # One number has one code: the long form may not repeat a number that has a short one.
    if not limits[0] <= number <= limits[1]:
        raise BadCode(f"'{show_tag(text)}' is longer than the number {number} needs.")
