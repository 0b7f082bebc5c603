"""Text to Code 128 bars, and back: bars that do not read as their own text are never handed out.

Two libraries encode; each result is decoded here from its bar widths, and the shortest one that
gives back exactly the text is taken. (python-barcode 0.16.1 loses a leading pair 99 and spends a
code word too many on a letter before digits.) Code 39 is not offered: short all-digit symbols of
it are read as pharmacy numbers, and encoders add a check character to it unasked.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

from barcode import Code128 as FirstEncoder
from reportlab.graphics.barcode.code128 import Code128 as SecondEncoder

from coretrack.errors import InvalidInput
from coretrack.paper.code128_table import (
    SHIFT,
    START_A,
    STOP_WIDTHS,
    TO_SET,
    WIDTHS,
    meaning,
)

MOST_SIGNS = 80
"""Longer texts fit no label; a symbol of 80 letters is 0.25 m long at 0.25 mm a module."""

_WORDS = {widths: word for word, widths in enumerate(WIDTHS)}
_OPPOSITE = {"A": "B", "B": "A"}


@dataclass(frozen=True)
class Bars:
    """A symbol: `widths` in modules, bar, space, bar … and a bar last; checked to read `text`."""

    text: str
    widths: tuple[int, ...]

    @property
    def modules(self) -> int:
        """Return the length in modules, without quiet zones."""
        return sum(self.widths)

    def bars(self) -> Iterator[tuple[int, int]]:
        """Yield each bar as (modules from the left edge, width in modules)."""
        at = 0
        for index, width in enumerate(self.widths):
            if index % 2 == 0:
                yield at, width
            at += width


def check_code_text(text: str) -> None:
    """Raise InvalidInput if a text cannot stand in Code 128 bars, naming the sign and its place.

    Letters without accents, digits and the keyboard's signs can: printable ASCII.
    """
    if not text:
        raise InvalidInput("There is no text for the bars; give 1 or more letters or digits.")
    if len(text) > MOST_SIGNS:
        raise InvalidInput(
            f"A text of {len(text)} signs is too long for bars; {MOST_SIGNS} is the most, "
            "and a small label holds 10 to 20."
        )
    for place, sign in enumerate(text, start=1):
        if not " " <= sign <= "~":
            raise InvalidInput(
                f"{as_shown(text)} cannot stand in bars: sign {place} is {_sign_name(sign)}. "
                f"{_hint(sign)}"
            )


def as_shown(text: str) -> str:
    """Return a text in quotes for a message, with signs that cannot be seen written out."""
    seen = "".join(sign if sign.isprintable() else f"<U+{ord(sign):04X}>" for sign in text)
    return f"'{seen}'"


def encode_code128(text: str) -> Bars:
    """Return the Code 128 bars of printable ASCII text; refuse anything else by name and place.

    The bars returned have been decoded and read exactly as `text`.
    """
    check_code_text(text)
    read_back = [
        widths for widths in (_first_widths(text), _second_widths(text)) if _reads_as(widths, text)
    ]
    if not read_back:
        raise InvalidInput(
            f"No bars were found for '{text}' that read back as it; take another text."
        )
    return Bars(text, min(read_back, key=sum))


def code_words(widths: tuple[int, ...]) -> list[int]:
    """Return the code words of a symbol from start to check word; ValueError if it is not one."""
    body, stop = widths[: -len(STOP_WIDTHS)], widths[-len(STOP_WIDTHS) :]
    if "".join(map(str, stop)) != STOP_WIDTHS or len(body) % 6 or len(body) < 12:
        raise ValueError("the bars do not end in a stop word or are cut short")
    words = []
    for at in range(0, len(body), 6):
        pattern = "".join(map(str, body[at : at + 6]))
        if pattern not in _WORDS:
            raise ValueError(f"bars {at + 1} to {at + 6} are no Code 128 word")
        words.append(_WORDS[pattern])
    return words


def check_word(words: list[int]) -> int:
    """Return the check word for a start word and the words after it: weighted sum modulo 103."""
    return (words[0] + sum(place * word for place, word in enumerate(words))) % 103


def decode_code128(widths: tuple[int, ...]) -> str:
    """Return the text of a symbol from its bar and space widths, or raise ValueError.

    Function codes are not text and are refused.
    """
    *words, check = code_words(widths)
    if words[0] < START_A:
        raise ValueError("the symbol does not begin with a start word")
    if check != check_word(words):
        raise ValueError("the check word is wrong")
    code_set = "ABC"[words[0] - START_A]
    text = ""
    shifted = False
    for word in words[1:]:
        if word in TO_SET[code_set] and not shifted:
            code_set = TO_SET[code_set][word]
        elif word == SHIFT and code_set != "C" and not shifted:
            shifted = True
        else:
            part = meaning(_OPPOSITE[code_set] if shifted else code_set, word)
            if part is None:
                raise ValueError(f"code word {word} stands for no text")
            text += part
            shifted = False
    return text


def _reads_as(widths: tuple[int, ...], text: str) -> bool:
    """Return whether bars decode to exactly that text."""
    try:
        return decode_code128(widths) == text
    except ValueError:
        return False


def _first_widths(text: str) -> tuple[int, ...]:
    """Encode with python-barcode; a new object each time, for a second build may differ."""
    modules = FirstEncoder(text).build()[0]
    widths = []
    run = 0
    for index, module in enumerate(modules):
        run += 1
        if index + 1 == len(modules) or modules[index + 1] != module:
            widths.append(run)
            run = 0
    return tuple(widths)


def _second_widths(text: str) -> tuple[int, ...]:
    """Encode with reportlab, which writes each bar and space as a letter: a or A is 1 module."""
    symbol = SecondEncoder(text, quiet=0)
    symbol.validate()
    symbol.encode()
    symbol.decompose()
    return tuple(ord(letter.lower()) - ord("a") + 1 for letter in symbol.decomposed)


def _sign_name(sign: str) -> str:
    """Return a sign with its name, such as "'В' (CYRILLIC CAPITAL LETTER VE)"."""
    number = f"U+{ord(sign):04X}"
    if unicodedata.category(sign) == "Cc":
        return f"the control character {number}"
    name = unicodedata.name(sign, number)
    return f"'{sign}' ({name})" if sign.isprintable() else f"{name} ({number})"


def _hint(sign: str) -> str:
    """Return what to type instead of a sign that bars cannot hold."""
    plain = unicodedata.normalize("NFKD", sign)[0]
    if " " < plain <= "~":
        return f"Use '{plain}', or other letters without accents, digits and keyboard signs."
    return "Use letters A to Z without accents, digits and keyboard signs."
