"""Which letters the standard PDF faces can print, and what stands in for the others.

The faces every PDF reader carries cover Western European text with ± µ Ø – and no more. A letter
outside keeps its base letter (ł as l, č as c) where it has one, else prints as a question mark, so
that a name is readable and never breaks the paper.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

_STAND_INS = {
    "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ı": "i", "ħ": "h", "Ħ": "H",
    "≥": ">=", "≤": "<=", "−": "-", "≈": "~", "→": "->", "←": "<-", "⌀": "Ø", "μ": "µ",
    "″": '"', "′": "'", "\u2009": " ", "\u202f": " ", "\u2011": "-",
}  # fmt: skip


def printable(text: str) -> str:
    """Return `text` with every letter that Helvetica cannot print replaced."""
    # Most texts need no look at each letter: this runs for every line of every paper.
    if text.isascii() and text.isprintable():
        return text
    return "".join(map(_printable, unicodedata.normalize("NFC", text)))


@lru_cache(maxsize=1024)
def _printable(letter: str) -> str:
    if letter in _STAND_INS:
        return _STAND_INS[letter]
    if letter.isspace():
        return " "
    if unicodedata.combining(letter) or unicodedata.category(letter) in ("Cc", "Cf"):
        return ""
    if _in_face(letter):
        return letter
    base = unicodedata.normalize("NFKD", letter)
    kept = "".join(part for part in base if not unicodedata.combining(part) and _in_face(part))
    return kept or "?"


def _in_face(letter: str) -> bool:
    try:
        letter.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return True
