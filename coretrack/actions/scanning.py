"""What a scan means in this shop: looked up, routed, never acted on by itself."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from coretrack.errors import InvalidInput
from coretrack.figures.part_numbers import match_key
from coretrack.figures.scans import Meaning, NumberHit, SerialHit, read_scan, resolve
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import Number
from coretrack.records import queries, shelf_queries
from coretrack.records.database import connection

_ESCAPE = re.compile(r"\\(x[0-9a-fA-F]{2}|u[0-9a-fA-F]{4}|[rnt\\])")
_NAMED = {"r": "\r", "n": "\n", "t": "\t", "\\": "\\"}


def understand(text: str, separator: str | None = None) -> Meaning:
    """Return what `text` names here; nothing is changed.

    `separator` is what a scanner sends in place of the GS1 separator, where it is set so;
    InvalidInput when it begins with a letter, a digit or a sign that part numbers hold.
    """
    if separator and (separator[0].isalnum() or separator in "-./ "):
        raise InvalidInput(
            f"'{separator}' cannot be the separator: numbers hold it too. Set the scanner to send "
            "a sign that they do not use, such as |, or the group separator itself (1D)."
        )
    with connection():
        return meaning_of(text, separator)


def meaning_of(text: str, separator: str | None = None) -> Meaning:
    """Return what `text` names here, inside the caller's connection; a void tag is said to be."""
    meaning = resolve(read_scan(text, separator=separator), ShopBook())
    if meaning.kind == "core" and meaning.tag and is_void(meaning.tag):
        return replace(meaning, sentence=void_words(meaning.tag))
    return meaning


def is_void(tag: str) -> bool:
    """Return whether the core with this tag was taken back, so that its label means nothing."""
    core = queries.core(tag)
    return core is not None and core.state == "taken back"


def void_words(tag: str) -> str:
    """Return what is said of the label of a core that was taken back."""
    return f"Core {show_tag(tag)} was taken back: throw this label away."


def with_escapes(text: str) -> str:
    r"""Return `text` with \x1d, \u00a0, \r, \n, \t and \\ turned into the signs they stand for."""
    return _ESCAPE.sub(lambda found: _NAMED.get(found[1]) or chr(int(found[1][1:], 16)), text)


class ShopBook:
    """The shop's tags, numbers, serials and papers, asked in the database."""

    def tag(self, tag: str) -> bool:
        """Return whether a core carries this tag."""
        return queries.core(tag) is not None

    def tags_like(self, digits: str, limit: int) -> Sequence[str]:
        """Return tags of cores that hold these digits, at most `limit`."""
        return queries.tags_holding(digits, limit)

    def numbers(self, match_key: str) -> Sequence[NumberHit]:
        """Return the numbers with this match key."""
        return [_hit(number) for number in queries.numbers([match_key]).values()]

    def number_prefixes(self, match_key: str, limit: int) -> Sequence[NumberHit]:
        """Return numbers whose match key begins so, at most `limit`."""
        return [_hit(number) for number in queries.numbers_starting(match_key, limit)]

    def serials_ignoring_case(self, text: str) -> Sequence[SerialHit]:
        """Return the serials that agree with `text` when case is ignored."""
        return [SerialHit(core.serial, core.tag) for core in queries.cores_with_serial(text)]

    def papers(self, text: str) -> Sequence[str]:
        """Return invoices, deliveries and lots with this number, as stored."""
        return queries.papers(text)

    def gtin(self, text: str) -> Sequence[NumberHit]:
        """Return the numbers known under this GTIN, in any of its lengths."""
        shortest = text.lstrip("0")
        keys = [shortest.zfill(length) for length in (8, 12, 13, 14) if len(shortest) <= length]
        return [_hit(number) for number in queries.numbers(map(match_key, keys)).values()]

    def metal_tag(self, number: int) -> str:
        """Return the tag of the core that carries this metal tag, "" while it is free."""
        worn_by = shelf_queries.cores_wearing(number)
        return worn_by[0].tag if worn_by else ""


def _hit(number: Number) -> NumberHit:
    return NumberHit(number.shown, number.core_group, number.family, number.superseded_by)
