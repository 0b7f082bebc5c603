"""What a scan names in this shop: looked up in a book of tags, numbers, serials and papers.

Nothing is chosen silently. One hit is taken, several are offered; a serial is taken without a
question only when it agrees in every letter's case and no other serial agrees without case. What
is not known stays as typed, with the nearest known names offered.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

from coretrack.figures.gs1 import gtin_forms, restored_gtins
from coretrack.figures.part_numbers import match_key
from coretrack.figures.scan_reading import Scan
from coretrack.figures.scan_text import Candidate, other_writings, printable
from coretrack.figures.tags import (
    SITES,
    ShopCode,
    is_own_code,
    is_tag,
    make_tag,
    nearest_tags,
    only_digits,
    show_tag,
)

MOST_OFFERED = 8
"""Candidates shown for one scan; more cannot be read at arm's length."""


@dataclass(frozen=True)
class NumberHit:
    """A known number, its core group and family, and the number that replaced it ("" if none)."""

    number: str
    group: str
    family: str
    superseded_by: str = ""


@dataclass(frozen=True)
class SerialHit:
    """A maker's serial as stored, and the tag of the core that carries it."""

    serial: str
    tag: str


class Book(Protocol):
    """What the shop knows, asked by a scan. Numbers are found by `part_numbers.match_key`."""

    def tag(self, tag: str) -> bool:
        """Return whether a core carries this tag."""

    def tags_like(self, digits: str, limit: int) -> Sequence[str]:
        """Return tags of cores that hold these digits, at most `limit`."""

    def numbers(self, match_key: str) -> Sequence[NumberHit]:
        """Return the numbers with this match key."""

    def number_prefixes(self, match_key: str, limit: int) -> Sequence[NumberHit]:
        """Return numbers whose match key begins so, at most `limit`."""

    def serials_ignoring_case(self, text: str) -> Sequence[SerialHit]:
        """Return the serials that agree with `text` when case is ignored."""

    def papers(self, text: str) -> Sequence[str]:
        """Return invoices, deliveries and returns with this number, as stored."""

    def gtin(self, text: str) -> Sequence[NumberHit]:
        """Return the numbers known under this GTIN, given as fourteen digits."""

    def metal_tag(self, number: int) -> str:
        """Return the tag of the core that carries this metal tag, "" while it is free."""


@dataclass(frozen=True)
class Meaning:
    """What a scan names here.

    `kind`: core, shop code, number, serial, paper, choose, unknown or refused. `confirm` asks that
    the full name is shown and agreed to before anything changes. `sentence` is what the clerk
    reads at arm's length, `message` what else has to be said (or ""). `serials` are cores that
    already carry the serial on a label.
    """

    kind: str
    scan: Scan
    sentence: str
    message: str = ""
    tag: str | None = None
    number: NumberHit | None = None
    serial: str | None = None
    paper: str | None = None
    confirm: bool = False
    candidates: tuple[Candidate, ...] = ()
    serials: tuple[SerialHit, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return the meaning for JSON, the scan inside."""
        hit = self.number
        return {
            "kind": self.kind,
            "sentence": self.sentence,
            "message": self.message,
            "tag": self.tag,
            "number": hit and hit.number,
            "core_group": hit and hit.group,
            "family": hit and hit.family,
            "superseded_by": (hit and hit.superseded_by) or None,
            "serial": self.serial,
            "paper": self.paper,
            "confirm": self.confirm,
            "candidates": [candidate.to_dict() for candidate in self.candidates],
            "serials": [{"serial": hit.serial, "tag": hit.tag} for hit in self.serials],
            "scan": self.scan.to_dict(),
        }


def resolve(scan: Scan, book: Book) -> Meaning:
    """Return what `scan` names in this shop; nothing is changed and nothing chosen silently."""
    if scan.kind in ("refused", "empty"):
        return _refused(scan, scan.candidates)
    if scan.kind in ("gs1", "format 06"):
        return _label(scan, book)
    found = _hits(scan, book)
    # A known number may be another known one that lost a digit: then both are offered.
    restored = _restored(scan, book)
    if len(found) == 1 and found[0].sure and not restored:
        return replace(found[0].meaning, candidates=_short_forms(scan, book))
    if found:
        return _choose(scan, [*(hit.candidate for hit in found), *restored])
    short = _short_forms(scan, book)
    if len(short) == 1 and not restored:
        return _core(scan, short[0].text, confirm=True).meaning
    if scan.kind == "wrong layout":
        return _refused(scan, restored or scan.candidates)
    if restored or short:
        return _choose(scan, [*short, *restored])
    if scan.kind == "digit triplets":
        return _choose(scan, scan.candidates)
    return _unknown(scan, book)


def _restored(scan: Scan, book: Book) -> list[Candidate]:
    """Return what the book knows under the scan's candidates and under GTINs short of digits."""
    restored = [known for candidate in scan.candidates for known in _known(candidate, book)]
    if scan.kind != "text":
        return restored
    told = {candidate.text for candidate in restored}
    for gtin in restored_gtins(scan.text):
        numbers = [hit for form in gtin_forms(gtin) for hit in book.numbers(form)]
        restored += [
            Candidate(hit.number, "with the digits that were lost", "number")
            for hit in _unique([*numbers, *book.gtin(gtin)])
            if hit.number not in told and hit.number != scan.text
        ]
    return restored


@dataclass(frozen=True)
class _Hit:
    """One thing the book knows under a scan: how it is offered, and what it means if it is it."""

    candidate: Candidate
    meaning: Meaning
    sure: bool = True


def _hits(scan: Scan, book: Book) -> list[_Hit]:
    """Return everything the book knows under this whole text, whatever kind it looks like."""
    found = []
    if scan.tag is not None and book.tag(scan.tag):
        found.append(_core(scan, scan.tag, confirm=False))
    if scan.code is not None:
        found.append(_shop_code(scan, scan.code, book))
    found += [_number(scan, hit) for hit in _numbers(scan, book)]
    found += _serials(scan, book)
    found += [_paper(scan, paper) for paper in _unique(book.papers(scan.text))]
    return found


def _short_forms(scan: Scan, book: Book) -> tuple[Candidate, ...]:
    """Return the tags whose serial alone was typed, in full or without its leading zeros.

    A whole number or paper of the same digits goes before them; they are then only offered.
    """
    text = scan.text
    if scan.kind != "text" or not only_digits(text) or len(text) > 9:
        return ()
    if text.startswith("0") and len(text) not in (7, 9):
        return ()
    return tuple(
        Candidate(tag, f"the core with serial {int(text)} of site {tag[0]}", "tag")
        for tag in (make_tag(site, int(text)) for site in SITES)
        if book.tag(tag)
    )


def _numbers(scan: Scan, book: Book) -> list[NumberHit]:
    hits = list(book.numbers(match_key(scan.text)))
    gtin = scan.gtin
    if gtin is None and scan.kind == "tag" and len(scan.text) == 12:
        gtin = scan.text.zfill(14)
    if gtin is not None:
        hits += book.gtin(gtin)
        for form in gtin_forms(gtin):
            hits += book.numbers(form)
    for number in scan.numbers:
        hits += book.numbers(match_key(number))
    return _unique(hits)


def _unique(hits: Iterable[Any]) -> list[Any]:
    return list(dict.fromkeys(hits))


def _core(scan: Scan, tag: str, *, confirm: bool) -> _Hit:
    message = "" if scan.text == tag else " ".join(scan.notes)
    return _Hit(
        Candidate(tag, "the core with this tag", "tag"),
        Meaning("core", scan, f"Core {show_tag(tag)}.", message, tag=tag, confirm=confirm),
    )


def _shop_code(scan: Scan, code: ShopCode, book: Book) -> _Hit:
    """Return what a shop code names; a metal tag that is wired to a core stands for that core."""
    worn_by = book.metal_tag(code.number) if code.kind == "metal tag" else ""
    if worn_by:
        said = f"Metal tag {code.number}: core {show_tag(worn_by)}."
        candidate = Candidate(worn_by, f"the core with metal tag {code.number}", "tag")
        return _Hit(candidate, Meaning("core", scan, said, tag=worn_by))
    what = code.order or code.number
    return _Hit(
        Candidate(code.text, f"the shop's code for {code.kind} {what}", "shop code"),
        Meaning("shop code", scan, f"{code.kind.capitalize()} {what}."),
    )


def _number(scan: Scan, hit: NumberHit) -> _Hit:
    where = f"core group {hit.group}, family {hit.family}"
    message = f"{hit.number} was superseded by {hit.superseded_by}." if hit.superseded_by else ""
    return _Hit(
        Candidate(hit.number, f"a number of {where}", "number"),
        Meaning("number", scan, f"Number {hit.number}: {where}.", message, number=hit),
    )


def _serials(scan: Scan, book: Book) -> list[_Hit]:
    # Scanners and Caps Lock turn case about, so agreeing without case is enough for a question.
    return [
        _Hit(
            Candidate(
                hit.tag,
                f"the core with serial {hit.serial}"
                + ("" if hit.serial == scan.text else " (differs in case)"),
                "tag",
            ),
            Meaning(
                "serial",
                scan,
                f"Serial {hit.serial}: core {show_tag(hit.tag)}.",
                tag=hit.tag,
                serial=hit.serial,
            ),
            sure=hit.serial == scan.text,
        )
        for hit in _unique(book.serials_ignoring_case(scan.text))
    ]


def _paper(scan: Scan, paper: str) -> _Hit:
    return _Hit(
        Candidate(paper, "a paper (invoice or delivery)", "paper"),
        Meaning("paper", scan, f"Paper {paper}.", paper=paper),
    )


def _label(scan: Scan, book: Book) -> Meaning:
    """Return what a label with several fields names; its serial and lot stay with the scan."""
    plain = [
        *(_number(scan, hit) for hit in book.numbers(match_key(scan.text))),
        *_serials(scan, book),
    ]
    if len(plain) == 1 and plain[0].sure:
        return plain[0].meaning
    if not scan.sure:
        return _choose(scan, scan.candidates) if scan.candidates else _refused(scan, ())
    numbers = _numbers(scan, book)
    serials = tuple(book.serials_ignoring_case(scan.serial)) if scan.serial else ()
    if len(numbers) == 1:
        known = _number(scan, numbers[0]).meaning
        message = " ".join(part for part in (known.message, scan.message) if part)
        return replace(known, message=message, serial=scan.serial, serials=serials)
    offered = [_number(scan, hit).candidate for hit in numbers]
    offered += [Candidate(hit.tag, f"the core with serial {hit.serial}", "tag") for hit in serials]
    if offered:
        return replace(_choose(scan, offered), serial=scan.serial, serials=serials)
    what = ", ".join(f"{field.name} {field.value}" for field in scan.fields)
    return Meaning(
        "unknown",
        scan,
        f"This label's number is not known here: {what}.",
        message=scan.message,
        serial=scan.serial,
    )


def _choose(scan: Scan, offered: Sequence[Candidate]) -> Meaning:
    """Return the question which of `offered` is meant; a damaged scan's fault comes first."""
    several = _unique(offered)[:MOST_OFFERED]
    asked = (
        f"Is it {_shown(several[0])}?"
        if len(several) == 1
        else "Choose: " + ", ".join(_shown(candidate) for candidate in several) + "."
    )
    sentence = (
        f"'{_short(scan.text)}' may be something else."
        if len(several) == 1
        else (f"'{_short(scan.text)}' may be {len(several)} things.")
    )
    return Meaning("choose", scan, scan.message or sentence, asked, candidates=tuple(several))


def _refused(scan: Scan, candidates: Sequence[Candidate]) -> Meaning:
    return Meaning(
        "refused",
        scan,
        scan.message or f"'{_short(scan.text)}' cannot be read.",
        "Nothing was looked up or changed.",
        candidates=tuple(candidates),
    )


def _unknown(scan: Scan, book: Book) -> Meaning:
    nearest = list(_nearest(scan, book) or scan.candidates)
    near = f"Near to it: {', '.join(map(_shown, nearest))}." if nearest else ""
    return Meaning(
        "unknown",
        scan,
        f"No core carries the tag {show_tag(scan.tag)}."
        if scan.tag
        else f"'{_short(scan.text)}' is not known here.",
        " ".join(part for part in (scan.message, near) if part),
        candidates=tuple(nearest),
    )


def _nearest(scan: Scan, book: Book) -> tuple[Candidate, ...]:
    """Return what the book knows that is nearest to an unknown text."""
    text = scan.tag or scan.text
    together = "".join(text.split())
    digits = together if only_digits(together) else text
    offered = [
        Candidate(tag, "a tag that is almost the same", "tag")
        for tag in nearest_tags(digits)
        if book.tag(tag)
    ]
    if only_digits(digits) and len(digits) >= 4 and not offered:
        offered += [
            Candidate(tag, "a tag with these digits", "tag")
            for tag in book.tags_like(digits, MOST_OFFERED)
        ]
    for other in other_writings(text):
        offered += _known(other, book)
    key = match_key(text)
    if len(key) >= 3:
        offered += [
            Candidate(hit.number, f"begins so; core group {hit.group}", "number")
            for hit in book.number_prefixes(key, MOST_OFFERED)
        ]
    return tuple(_unique(offered))[:MOST_OFFERED]


def _known(undone: Candidate, book: Book) -> list[Candidate]:
    """Return the candidate with its kind if the book knows the text, exactly, else nothing."""
    if is_own_code(undone.text):
        known = not is_tag(undone.text) or book.tag(undone.text)
        return [undone] if known else []
    if book.numbers(match_key(undone.text)) or (
        undone.kind == "gtin" and book.gtin(undone.text.zfill(14))
    ):
        return [replace(undone, kind="number")]
    serials = _unique(hit.serial for hit in book.serials_ignoring_case(undone.text))
    if undone.text in serials:
        return [replace(undone, kind="serial")]
    return [Candidate(serial, f"{undone.why} (differs in case)", "serial") for serial in serials]


def _shown(candidate: Candidate) -> str:
    return show_tag(candidate.text) if candidate.kind == "tag" else printable(candidate.text)


def _short(text: str) -> str:
    seen = printable(text)
    return seen if len(seen) <= 40 else seen[:39] + "…"
