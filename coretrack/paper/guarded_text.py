"""Keeps text as text in CSV files: what a spreadsheet program would change is written ="…".

A CSV cell has no type, so spreadsheet programs turn `00420` into 420, `3-1` into a date and run
`=1+1`. A cell written as `="00420"` is a formula whose only content is that constant text: nothing
is computed, and the program shows 00420. This reader takes the dress off again exactly. A text
longer than a formula's constant may be is joined from pieces, `="…"&"…"`.
"""

from __future__ import annotations

import re

LONGEST_CONSTANT = 250
"""Spreadsheet programs take at most 255 characters in one constant (from memory)."""

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")

_GUARDED = re.compile(r'="(?:[^"]|"")*"(?:&"(?:[^"]|"")*")*', re.DOTALL)
_PIECE = re.compile(r'"((?:[^"]|"")*)"', re.DOTALL)
_NUMBER_LIKE = re.compile(r"[^A-Za-z][\d\s.,:;/\\\-–+()%'’eEdD$€£¥¢]*")
_DATE_LIKE = re.compile(r"[\d\s./:-]*(?P<word>[^\W\d_]{1,12})\.?[\d\s./:-]*")
_LONGEST_DATE = 30
_TRUTH_WORDS = frozenset({"true", "false", "wahr", "falsch", "vrai", "faux", "vero", "falso"})


def starts_like_formula(text: str) -> bool:
    """Return whether a spreadsheet program could take `text` for a formula."""
    return text.startswith(FORMULA_SIGNS) or text.lstrip().startswith(FORMULA_SIGNS)


def would_change(text: str) -> bool:
    """Return whether a spreadsheet program may run `text`, or turn it into a number or a date."""
    if not text:
        return False
    if starts_like_formula(text) or text.casefold() in _TRUTH_WORDS:
        return True
    bare = text.strip()
    if not any(sign.isdigit() for sign in bare):
        return False
    return bool(_NUMBER_LIKE.fullmatch(bare)) or _looks_like_date(bare)


def _looks_like_date(text: str) -> bool:
    """One word among digits: a month in some language (MARCH1, 1-Okt) or half a day (5 PM)."""
    found = _DATE_LIKE.fullmatch(text) if len(text) <= _LONGEST_DATE else None
    if found is None:
        return False
    word = found["word"].casefold()
    half_day = text[0].isdigit() and word in {"a", "p", "am", "pm"}
    return len(word) >= 3 or not word.isascii() or half_day


def guarded(text: str) -> str:
    """Return `text` dressed as ="…" where a spreadsheet program would change it, else as it is."""
    if not would_change(text) and not _GUARDED.fullmatch(text):
        return text
    pieces = [
        text[start : start + LONGEST_CONSTANT]
        for start in range(0, max(len(text), 1), LONGEST_CONSTANT)
    ]
    return "=" + "&".join('"' + piece.replace('"', '""') + '"' for piece in pieces)


def unguarded(text: str) -> str:
    """Take the dress of `guarded` off; any other text comes back as it is."""
    bare = text.strip(" ")
    if not bare.startswith('="') or not _GUARDED.fullmatch(bare):
        return text
    return "".join(piece.replace('""', '"') for piece in _PIECE.findall(bare[1:]))
