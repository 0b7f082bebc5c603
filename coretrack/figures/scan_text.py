"""What happens to a scan on its way through keyboard and field, and how it is undone.

Prefixes and suffixes that scanners add, invisible signs, a scanner that types for another
keyboard layout, Caps Lock, and scanners that type each sign as its three-digit number. The
layout tables are the common desktop ones, from memory; the rows follow the keys of a US keyboard.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from coretrack.figures.invisible import BLANKS, INVISIBLE
from coretrack.figures.part_numbers import DASHES, trim
from coretrack.figures.tags import is_shop_code, is_tag

GS, RS, EOT = "\x1d", "\x1e", "\x04"
"""Group separator, record separator and end of transmission, which hold label data apart."""


@dataclass(frozen=True)
class Candidate:
    """Something a scan may have meant: `text` can be looked up again, `why` is for a person.

    `kind`: tag, shop code, number, serial, paper, gtin, label (data with identifiers) or text.
    """

    text: str
    why: str
    kind: str = "text"

    def to_dict(self) -> dict[str, str]:
        """Return the candidate for JSON."""
        return {"text": self.text, "why": self.why, "kind": self.kind}


@dataclass(frozen=True)
class Bare:
    """A scan without what the scanner and the field added: prefix kept apart, changes noted."""

    text: str
    symbology: str | None
    notes: tuple[str, ...]
    marked_gs1: bool = False


_SYMBOLOGIES = {
    "A": "Code 39",
    "C": "Code 128",
    "E": "EAN/UPC",
    "F": "Codabar",
    "G": "Code 93",
    "I": "Interleaved 2 of 5",
    "L": "PDF417",
    "Q": "QR Code",
    "d": "Data Matrix",
    "e": "GS1 DataBar",
    "z": "Aztec",
}
GS1_SYMBOLOGIES = ("]C1", "]e0", "]e1", "]e2", "]d2", "]Q3", "]J1")
"""The marks in front (ISO/IEC 15424) that say that GS1 element strings follow."""

_PREFIX = re.compile(r"\][A-Za-z][0-9A-Za-z]")
_FRAMING = "\x01\x02\x03\x05\x06"
"""Control signs that scanners can be set to send before and after a code (STX, ETX and kin)."""
_UNSEEN = dict.fromkeys(map(ord, INVISIBLE))
_BLANKS = dict.fromkeys(map(ord, BLANKS), " ")


def bare(raw: str) -> Bare:
    """Return `raw` without what the scanner added, and without signs that cannot be seen.

    Off come the mark in front, STX and ETX, Enter or Tab behind, a separator in front (which marks
    GS1 data as ]C1 does) and the asterisks that start and stop Code 39.
    """
    notes: list[str] = []
    text = _unframed(raw)
    symbology = None
    if _PREFIX.match(text):
        symbology, text = text[:3], _unframed(text[3:])
        notes.append(f"The mark {symbology} in front says: {symbology_name(symbology)}.")
    marked = symbology in GS1_SYMBOLOGIES or text.startswith(GS)
    text = text.lstrip(GS)
    inner = text.translate(_UNSEEN)
    if inner != text:
        notes.append("Invisible signs inside were left out.")
    inner = inner.translate(_BLANKS)
    if re.fullmatch(r"\*(?=.*\w)[A-Za-z0-9 .$/+%-]+\*", inner):
        inner = inner[1:-1]
        notes.append("The asterisks that start and stop Code 39 were left out.")
    return Bare(inner, symbology, tuple(notes), marked)


def _unframed(text: str) -> str:
    """Return `text` without blanks, invisible signs and framing control signs at either end."""
    shorter = trim(text).strip(_FRAMING)
    if EOT in shorter and RS not in shorter and GS not in shorter:
        shorter = shorter.strip(EOT)
    return shorter if shorter == text else _unframed(shorter)


def printable(text: str) -> str:
    """Return `text` for a person, a blank for each sign that cannot be shown."""
    return "".join(sign if sign.isprintable() else " " for sign in text)


def symbology_name(mark: str) -> str:
    """Return the name of the symbol behind a mark such as ]C1."""
    name = _SYMBOLOGIES.get(mark[1], "another symbol")
    return f"{name} with GS1 data" if mark in GS1_SYMBOLOGIES else name


# Each layout: the four rows unshifted, then shifted, key by key like _US. A middle dot stands for
# a key that types nothing one could read back.
_US = (
    "`1234567890-=qwertyuiop[]\\asdfghjkl;'zxcvbnm,./",
    '~!@#$%^&*()_+QWERTYUIOP{}|ASDFGHJKL:"ZXCVBNM<>?',
)
LAYOUTS = {
    "German (QWERTZ)": (
        "^1234567890ß´qwertzuiopü+#asdfghjklöäyxcvbnm,.-",
        "°!\"§$%&/()=?`QWERTZUIOPÜ*'ASDFGHJKLÖÄYXCVBNM;:_",
    ),
    "Italian": (
        "\\1234567890'ìqwertyuiopè+ùasdfghjklòàzxcvbnm,.-",
        '|!"£$%&/()=?^QWERTYUIOPé*§ASDFGHJKLç°ZXCVBNM;:_',
    ),
    "Spanish": (
        "º1234567890'¡qwertyuiop`+çasdfghjklñ´zxcvbnm,.-",
        'ª!"·$%&/()=?¿QWERTYUIOP^*ÇASDFGHJKLÑ¨ZXCVBNM;:_',
    ),
    "French (AZERTY)": (
        "²&é\"'(-è_çà)=azertyuiop^$*qsdfghjklmùwxcvbn,;:!",
        "·1234567890°+AZERTYUIOP¨£µQSDFGHJKLM%WXCVBN?./§",
    ),
    "Belgian (AZERTY)": (
        "²&é\"'(§è!çà)-azertyuiop^$µqsdfghjklmùwxcvbn,;:=",
        "³1234567890°_AZERTYUIOP¨*£QSDFGHJKLM%WXCVBN?./+",
    ),
    "Czech (QWERTZ)": (
        ";+ěščřžýáíé=´qwertzuiopú)¨asdfghjklů§yxcvbnm,.-",
        "°1234567890%ˇQWERTZUIOP/('ASDFGHJKL\"!YXCVBNM?:_",
    ),
    "Slovak (QWERTZ)": (
        ";+ľščťžýáíé=´qwertzuiopúäňasdfghjklô§yxcvbnm,.-",
        '°1234567890%ˇQWERTZUIOP/()ASDFGHJKL"!YXCVBNM?:_',
    ),
    "Hungarian (QWERTZ)": (
        "0123456789öüóqwertzuiopőúűasdfghjkléáyxcvbnm,.-",
        "§'\"+!%/=()ÖÜÓQWERTZUIOPŐÚŰASDFGHJKLÉÁYXCVBNM?:_",
    ),
    "Swiss (QWERTZ)": (
        "§1234567890'^qwertzuiopü¨$asdfghjklöäyxcvbnm,.-",
        '°+"*ç%&/()=?`QWERTZUIOPè!£ASDFGHJKLéàYXCVBNM;:_',
    ),
    "Portuguese": (
        "\\1234567890'«qwertyuiop+´~asdfghjklçºzxcvbnm,.-",
        '|!"#$%&/()=?»QWERTYUIOP*`^ASDFGHJKLÇªZXCVBNM;:_',
    ),
    "Swedish": (
        "§1234567890+´qwertyuiopå¨'asdfghjklöäzxcvbnm,.-",
        '½!"#¤%&/()=?`QWERTYUIOPÅ^*ASDFGHJKLÖÄZXCVBNM;:_',
    ),
    "Danish": (
        "½1234567890+´qwertyuiopå¨'asdfghjklæøzxcvbnm,.-",
        '§!"#¤%&/()=?`QWERTYUIOPÅ^*ASDFGHJKLÆØZXCVBNM;:_',
    ),
}
"""What the keys of a US keyboard type under other layouts."""


def _table(typed: str, meant: str) -> dict[str, str]:
    return {a: b for a, b in zip(typed, meant, strict=True) if "·" not in (a, b)}


# The first entry of each layout undoes a US scanner on that computer, the second the reverse.
_UNDO = {
    name: (_table("".join(rows), "".join(_US)), _table("".join(_US), "".join(rows)))
    for name, rows in LAYOUTS.items()
}
_WHY = (
    "the scanner types for a US keyboard, but this computer is set to {names}",
    "the scanner types for a {names} keyboard, but this computer is set to US",
)
# What these layouts type for 0 and dash are letters of honest words (Prüf-7): they prove nothing.
_HONEST_LETTERS = ("Hungarian (QWERTZ)",)
_KEPT = f" {GS}{RS}{EOT}"
_PLAIN = re.compile(r"[A-Za-z0-9 ./_#+*:,()-]+")
_LIKELY = re.compile(r"(?=.*[0-9])[A-Za-z0-9 ./_-]+")


def undone_layouts(text: str, without: Iterable[str] = ()) -> tuple[Candidate, ...]:
    """Return every text that a scanner set to another keyboard layout could have meant.

    Texts that stay the same are left out; layouts that agree share one candidate. Where a key of
    a layout has no counterpart, that layout is left out, and so are those named in `without`.
    """
    found: dict[str, dict[str, list[str]]] = {}
    for name, tables in _UNDO.items():
        if name in without:
            continue
        for table, why in zip(tables, _WHY, strict=True):
            meant = "".join(table.get(s, s if s in _KEPT else "·") for s in text)
            if meant != text and "·" not in meant:
                found.setdefault(meant, {}).setdefault(why, []).append(name)
    return tuple(
        Candidate(
            meant,
            ", or ".join(why.format(names=" or ".join(names)) for why, names in whys.items()),
            kind_of_own(meant),
        )
        for meant, whys in found.items()
    )


def kind_of_own(text: str) -> str:
    """Return "tag", "shop code" or, for anything else, "text"."""
    if is_tag(text):
        return "tag"
    return "shop code" if is_shop_code(text) else "text"


# What the digit keys 1 to 0 type, with and without Shift, under the layout the key names.
_DIGIT_ROWS = {"US": _US} | LAYOUTS
_DIGIT_KEYS = [
    (name, _table(row[1:11], "1234567890"))
    for name, rows in _DIGIT_ROWS.items()
    for row in rows
    if row[1:11] != "1234567890"
]


def own_code_undone(text: str) -> Candidate | None:
    """Return the own code hidden by a wrong keyboard layout, when there is exactly one.

    The code is all digits, so it only matters what the ten digit keys type; that also covers a
    scanner that holds Shift, and two foreign layouts at once.
    """
    found: dict[str, list[str]] = {}
    for name, keys in _DIGIT_KEYS:
        meant = "".join(keys.get(sign, "·") for sign in text)
        if kind_of_own(meant) != "text":
            found.setdefault(meant, []).append(name)
    if len(found) != 1:
        return None
    [(meant, names)] = found.items()
    why = (
        "the scanner types for another keyboard than this computer, and this computer is set to "
        + " or ".join(dict.fromkeys(names))
    )
    return Candidate(meant, why, kind_of_own(meant))


def layout_damage(text: str) -> tuple[Candidate, ...]:
    """Return likely meanings of a text that holds a tell-tale sign of a wrong layout, else none.

    Tell-tale is a sign that numbers do not use (ß, apostrophe, §) where undoing a layout gives
    plain letters and digits.
    """
    if _PLAIN.fullmatch(text):
        return ()
    found = undone_layouts(text, without=_HONEST_LETTERS)
    return tuple(candidate for candidate in found if _LIKELY.fullmatch(candidate.text))


def label_damage(text: str) -> tuple[Candidate, ...]:
    """Return the label data behind a text with separators whose other signs a layout damaged."""
    if not any(mark in text for mark in (GS, RS)):
        return ()
    return tuple(c for c in undone_layouts(text) if "[)>" in c.text[:5])


def swapped_case(text: str) -> Candidate | None:
    """Return what `text` would be had Caps Lock been off; None when it holds no letter."""
    swapped = text.swapcase()
    if swapped == text or len(swapped) != len(text):
        return None
    return Candidate(swapped, "Caps Lock may be on")


def other_writings(text: str) -> Iterator[Candidate]:
    """Yield what an unknown text may have been before a keyboard or a second read got at it."""
    yield from undone_layouts(text)
    swapped = swapped_case(text)
    if swapped is not None:
        yield swapped
    half = len(text) // 2
    if text[:half] == text[half:]:
        yield Candidate(text[:half], "read twice in one go")
    dashes = "".join("-" if sign in DASHES else sign for sign in text)
    if dashes != text:
        yield Candidate(dashes, "with plain dashes")


def digit_triplets(text: str) -> str | None:
    """Return the text behind three or four digits a sign (a scanner in ALT mode), or None.

    At least three signs, all printable ASCII but for separators of label data and an Enter or Tab
    at the end.
    """
    return _behind_digits(text, 3) or _behind_digits(text, 4)


def _behind_digits(text: str, size: int) -> str | None:
    if len(text) < 3 * size or len(text) % size or not (text.isascii() and text.isdigit()):
        return None
    numbers = [int(text[start : start + size]) for start in range(0, len(text), size)]
    if max(numbers) > ord("~"):
        return None
    signs = [chr(number) for number in numbers]
    while signs and signs[-1] in "\r\n\t":
        signs.pop()
    if len(signs) < 3 or not all(" " <= sign <= "~" or sign in (GS, RS, EOT) for sign in signs):
        return None
    return "".join(signs)


_DIGIT_FOR_LETTER = str.maketrans("OoQDIl|ZzSsB", "000011122558")


def letters_read_as_digits(text: str) -> str:
    """Return `text` with letters that look like digits (O, I, l, S, B …) replaced by them."""
    return text.translate(_DIGIT_FOR_LETTER)
