"""Recognises a barcode that a scanner typed into a field meant for a figure."""

from __future__ import annotations

import re

from coretrack.figures import tags
from coretrack.figures.numbers import clean_text, quoted

MOST_WHOLE_DIGITS = 7
"""A longer string of digits without a decimal mark is a code, not a reading or an amount."""

_PREFIX = re.compile(r"\][A-Za-z]\d|>?\[\)>|\(\d{2,4}\)")
_CONTROLS = re.compile("[\x04\x1c-\x1f]")
_LONG_DIGITS = re.compile(rf"\d{{{MOST_WHOLE_DIGITS + 1},}}")


def why_a_code(text: str) -> str:
    """Return why `text` looks like a barcode or a part number, empty when it does not.

    Seen as codes: the shop's own codes, eight and more digits without a decimal mark, digits after
    two leading zeros, scanner prefixes such as `]C1`, control signs of element strings, and text
    that begins with a letter and holds digits.
    """
    plain = clean_text(text)
    joined = plain.replace(" ", "")
    digits = sum(sign.isdigit() for sign in plain)
    if tags.only_digits(joined):
        if tags.is_own_code(joined):
            return (
                f"{tags.show_tag(joined)} looks like a barcode: it is one of the shop's own codes"
            )
        if len(joined) > MOST_WHOLE_DIGITS:
            return f"{quoted(plain)} looks like a barcode: {len(joined)} digits without a point"
        if joined.startswith("00") and joined.strip("0"):
            return f"{quoted(plain)} looks like a part number because of its leading zeros"
        return ""
    strange = _LONG_DIGITS.search(joined) and not re.search(r"[.,]", joined)
    labelled = plain[:1].isalpha() and digits > 1 and not re.search(r"\d[.,]\d", plain)
    if labelled or _PREFIX.match(plain) or _CONTROLS.search(text):
        return f"{quoted(plain)} looks like a barcode or a label"
    if strange and re.search(r"\d[^\W\d_]+\d|[^\w\s+\-]", joined):
        return f"{quoted(plain)} looks like a barcode"
    return ""
