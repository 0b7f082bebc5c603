"""Part, casting and serial numbers as people write them: kept as typed, compared leniently.

A number is text: 00420, 0010 and 1E10 stay what they are. Two spellings are the same number when
they agree without spaces, dashes, dots and case; a slash counts, because A/B and AB may be two
things. The list of look-alike letters is from memory.
"""

from __future__ import annotations

import unicodedata

from coretrack.figures.invisible import BLANKS, INVISIBLE

LONGEST = 80
"""Signs in the longest number that is taken; longer text is not a number."""

DASHES = "-\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe58\ufe63\uff0d"
DOTS = ".\u00b7"

_LOOK_ALIKE = str.maketrans(
    "АВЕКМНОРСТУХІЈЅаеорсухіјѕΑΒΕΖΗΙΚΜΝΟΡΤΥΧοντ",
    "ABEKMHOPCTYXIJSaeopcyxijsABEZHIKMNOPTYXovt",
)


class BadNumber(ValueError):
    """The text cannot be a number; the message names the sign and its place."""


def trim(text: str) -> str:
    """Return `text` without spaces and invisible signs at either end."""
    return text.strip(INVISIBLE + BLANKS + " \t\r\n\v\f\x00")


def clean_number(text: str, what: str = "number", longest: int = LONGEST) -> str:
    """Return `text` trimmed and otherwise as typed, fit to be stored as a part or serial number.

    A letter and its accent typed as two signs become the one sign that they look like. BadNumber
    for nothing at all, more than `longest` signs, control signs, invisible signs inside, loose
    accents, and letters or digits of another alphabet, which look right and match nothing.
    """
    number = trim(unicodedata.normalize("NFC", text))
    if not number:
        raise BadNumber(f"The {what} is empty.")
    if len(number) > longest:
        raise BadNumber(f"This {what} has {len(number)} signs; {longest} is the most.")
    for place, sign in enumerate(number, 1):
        fault = _fault(sign)
        if fault:
            raise BadNumber(f"Sign {place} of the {what} {_printable(number)} is {fault}")
    return number


def match_key(text: str) -> str:
    """Return the form in which two spellings of one number are equal.

    Spaces, dashes, dots and invisible signs go, letters are raised. A text of nothing else is its
    own key, so that even '..' can be told from '-'.
    """
    kept = [
        _raised(sign)
        for sign in trim(unicodedata.normalize("NFC", text))
        if not (sign.isspace() or sign in DASHES or sign in DOTS or sign in INVISIBLE)
    ]
    return trim(unicodedata.normalize("NFC", "".join(kept))) or trim(text)


def _raised(sign: str) -> str:
    # Only letters with one capital of the same alphabet: ß would become SS, µ a Greek letter.
    if sign.isascii():
        return sign.upper()
    capital = sign.upper()
    return capital if len(capital) == 1 and capital.lower() == sign else sign


def _fault(sign: str) -> str | None:
    """Return what is wrong with one sign, worded to follow 'Sign 3 of the number … is'."""
    if sign.isascii() and sign.isprintable():
        return None
    category = unicodedata.category(sign)
    name = unicodedata.name(sign, f"the sign U+{ord(sign):04X}")
    if category == "Cc":
        return f"a control sign (U+{ord(sign):04X}), which no number holds; scan or type it again."
    if category.startswith("C") or sign in INVISIBLE:
        return f"invisible ({name.lower()}); type the number again."
    if category.startswith("L") and not name.startswith("LATIN"):
        twin = sign.translate(_LOOK_ALIKE)
        looks = f", which only looks like the Latin {twin}" if twin != sign else ""
        return f"'{sign}' ({_title(name)}){looks}; type it again with Latin letters."
    if category.startswith("M"):
        return f"a loose accent ({name.lower()}) on the sign before it; type the number again."
    if category == "Nd":
        return f"'{sign}' ({_title(name)}); type it again with the digits 0 to 9."
    return None


def _title(name: str) -> str:
    script, _, rest = name.partition(" ")
    return f"{script.capitalize()} {rest.lower()}"


def _printable(text: str) -> str:
    shown = "".join(sign if sign.isprintable() else "�" for sign in text)
    return f"'{shown}'"


def loose_serial(text: str) -> str:
    """Return a serial without blanks and dashes: nobody tells two bodies apart by those alone.

    Capitals stay: makers do use them to tell bodies apart.
    """
    return "".join(sign for sign in trim(text) if not (sign.isspace() or sign in DASHES))
