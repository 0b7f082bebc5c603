"""What a scan at a lot's page means there: one more piece, a count, a question, or nothing."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from coretrack.actions.lot_rows import Rows, SortedRow, pieces_in, row_with
from coretrack.actions.offers import MARK, offer, taken_apart
from coretrack.actions.scanning import is_void, void_words
from coretrack.actions.typed_fields import clean_code
from coretrack.errors import InvalidInput
from coretrack.figures.part_numbers import match_key
from coretrack.figures.plain_words import counted
from coretrack.figures.scan_replies import ScanReply
from coretrack.figures.scans import Meaning
from coretrack.figures.tags import only_digits, show_tag
from coretrack.figures.trade_objects import Number
from coretrack.records import queries

NOT_READABLE = "not readable"

MOST_OFFERED = 6
COUNT_DIGITS = 3
"""A typed number of so many digits counts the row in hand; part numbers are longer."""


class LotDesk(Protocol):
    """One person at one lot."""

    @property
    def code(self) -> str:
        """The lot's code."""

    @property
    def rows(self) -> Rows:
        """The lot's rows now."""

    @property
    def in_hand(self) -> SortedRow | None:
        """The row this person touched last."""

    def add(self, row: SortedRow) -> SortedRow:
        """Add one piece to a row and return the row."""

    def set_count(self, row: SortedRow, count: int) -> SortedRow:
        """Let a row have so many pieces and return it."""

    def undo(self) -> str:
        """Take this person's last step back and say what it was."""


def reply_to(text: str, meaning: Meaning, desk: LotDesk) -> ScanReply:
    """Act on a scan and say what was done; InvalidInput and NotAllowed say why nothing was.

    `text` is the scan as it came: a reply's offer says by itself what it means.
    """
    if text.startswith(MARK):
        return _chosen(text, desk)
    text = meaning.scan.text.strip()
    if only_digits(text) and len(text) <= COUNT_DIGITS and desk.in_hand is not None:
        return _digits(text, meaning, desk)
    match meaning.kind:
        case "number" if meaning.number is not None:
            return _one_more(desk, meaning.number.number, meaning.serial or "", meaning.message)
        case "shop code":
            return _order(meaning, desk)
        case "core" if meaning.tag and not meaning.confirm:
            return _in_the_house(meaning.tag)
        case "serial":
            return _body_seen(meaning)
        case "paper":
            return _paper(meaning, desk)
        case "refused":
            return _ask(meaning, desk, unknown=False)
        case _:
            row = row_with(desk.rows, SortedRow(number_text=_read_off(meaning)).id)
            if meaning.kind == "unknown" and row is not None:
                return _counted_reply(desk, desk.add(row), "")
            return _ask(meaning, desk, unknown=True)


def _chosen(text: str, desk: LotDesk) -> ScanReply:
    """Act on an offer that was chosen."""
    verb, told = taken_apart(text)
    match verb:
        case "number":
            return _one_more(desk, told, "", "")
        case "count":
            return _count(desk, told)
        case "unknown":
            row = SortedRow(number_text=clean_code(told, "number"))
            return _counted_reply(desk, desk.add(row), "")
        case "illegible":
            return _counted_reply(desk, desk.add(SortedRow()), "")
    raise InvalidInput("This choice belongs to another page; scan the piece again.")


def _digits(text: str, meaning: Meaning, desk: LotDesk) -> ScanReply:
    """Count the row in hand; ask where the digits are a known number as well."""
    if meaning.kind != "number" or meaning.number is None or desk.in_hand is None:
        return _count(desk, text)
    return ScanReply(
        "ask",
        "WHICH",
        f"{text} is a number of the shop and may be a count.",
        offers=(
            offer(f"{text} pieces of {desk.in_hand.name}", "count", text),
            offer(f"one piece of {meaning.number.number}", "number", meaning.number.number),
        ),
    )


def _count(desk: LotDesk, text: str) -> ScanReply:
    row = desk.in_hand
    if row is None:
        raise InvalidInput("Scan a number first; then its count can be typed.")
    if not only_digits(text) or len(text) > COUNT_DIGITS + 1:
        raise InvalidInput(f"'{text}' is no count; type a whole number such as 12.")
    if row.serial:
        raise InvalidInput(
            f"The last piece has serial {row.serial} and is one piece; scan a number first."
        )
    return _counted_reply(desk, desk.set_count(row, int(text)), "")


def _one_more(desk: LotDesk, told: str, serial: str, message: str) -> ScanReply:
    key = match_key(told)
    number = queries.numbers([key]).get(key)
    if number is None:
        raise InvalidInput(f"No core group has the number {told}.")
    row = desk.add(SortedRow(number=number.shown, serial=serial))
    return _counted_reply(desk, row, _known_as(number, desk.rows, message))


def _known_as(number: Number, rows: Rows, message: str) -> str:
    """Return family and group of a number, what replaced it, and the rows of the same core."""
    said = f"Family {number.family}, core group {number.group_name or number.core_group}."
    if number.superseded_by:
        later = f"{number.shown} was superseded by {number.superseded_by}."
        said += f" {later}"
        message = message.replace(later, "").strip()
    names = dict.fromkeys(row.number for row in rows if row.number and row.number != number.shown)
    known = queries.numbers(match_key(name) for name in names)
    same = [other.shown for other in known.values() if other.core_group == number.core_group]
    if same:
        said += f" The same core as {', '.join(sorted(same))} in this lot."
    return f"{said} {message}".strip()


def _counted_reply(desk: LotDesk, row: SortedRow, detail: str) -> ScanReply:
    total = pieces_in(desk.rows)
    line = f"{row.name}: {counted(row.count, 'piece')}; {total:,} in the lot."
    if not row.number:
        detail = "An unknown core: it gets a label and a tag, and is graded once it is identified."
    word = counted(row.count, "piece").upper()
    return ScanReply("good", word, line, detail, undo=f"the last piece of {row.name}")


def _order(meaning: Meaning, desk: LotDesk) -> ScanReply:
    code = meaning.scan.code
    order = code.order if code else None
    if order == "undo":
        said = desk.undo()
        total = counted(pieces_in(desk.rows), "piece")
        return ScanReply("note", "TAKEN BACK", f"{said}; {total} in the lot.")
    if order in ("done", "accept"):
        return ScanReply(
            "note",
            "CHECK",
            f"Lot {desk.code} holds {counted(pieces_in(desk.rows), 'piece')}. Look at the figures "
            "below and take the lot in there.",
        )
    what = f"The order '{order}'" if order else meaning.sentence.rstrip(".")
    return ScanReply("stop", "NOT HERE", f"{what} does nothing while a lot is sorted.")


def _in_the_house(tag: str) -> ScanReply:
    if is_void(tag):
        return ScanReply("stop", "VOID TAG", void_words(tag), "Then scan the number of the body.")
    line = f"{show_tag(tag)} is the tag of a core in the books already; nothing was counted."
    return ScanReply("stop", "HAS A TAG", line, target="core", code=tag)


def _body_seen(meaning: Meaning) -> ScanReply:
    return ScanReply(
        "ask",
        "SERIAL",
        f"{meaning.sentence} Nothing was counted.",
        "Scan the number of this body; then type the serial into the row in hand.",
    )


def _paper(meaning: Meaning, desk: LotDesk) -> ScanReply:
    if meaning.paper == desk.code:
        return ScanReply("note", "THIS LOT", f"Lot {desk.code} is the one on the page.")
    found = queries.lot(meaning.paper or "")
    target = "" if found is None else ("lot" if found.kind == "purchase" else "delivery")
    return ScanReply(
        "ask",
        "A PAPER",
        f"{meaning.paper} is a paper, not a number; nothing was counted.",
        target=target,
        code=meaning.paper if target and meaning.paper else "",
    )


def _ask(meaning: Meaning, desk: LotDesk, *, unknown: bool) -> ScanReply:
    """Offer the numbers that may be meant, and the ways to count a piece without one."""
    text = _read_off(meaning)
    offers = [
        offer(f"{number.shown}, family {number.family}", "number", number.shown)
        for number in _numbers_offered(meaning)
    ][:MOST_OFFERED]
    if unknown and text:
        offers.append(offer(f"unknown core: {text}", "unknown", text))
    if unknown:
        offers.append(offer(NOT_READABLE, "illegible"))
    word, tone = ("WHICH", "ask") if unknown else ("NOT READ", "stop")
    return ScanReply(tone, word, meaning.sentence, meaning.message, offers=tuple(offers))


def _read_off(meaning: Meaning) -> str:
    """Return what may be the number in a scan: of a label with fields only its number."""
    scan = meaning.scan
    if scan.fields:
        return scan.numbers[0] if scan.numbers else ""
    return scan.text.strip()


def _numbers_offered(meaning: Meaning) -> Iterable[Number]:
    keys = [match_key(c.text) for c in meaning.candidates if c.kind == "number"]
    known = queries.numbers(keys)
    return [known[key] for key in dict.fromkeys(keys) if key in known]
