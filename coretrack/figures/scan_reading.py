"""What one scan says by itself, before anything is looked up.

Order: mark in front, Enter and invisible signs off; then own code; then label data (envelope,
GS1); then GTIN; then a scanner in a wrong mode; then plain text. What is not sure is offered as
candidates and never taken silently. The raw scan is kept sign for sign.
"""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass, replace
from typing import Any

from coretrack.figures import format06, gs1
from coretrack.figures.part_numbers import BadNumber, clean_number
from coretrack.figures.scan_text import (
    GS,
    Candidate,
    bare,
    digit_triplets,
    kind_of_own,
    label_damage,
    layout_damage,
    letters_read_as_digits,
    own_code_undone,
)
from coretrack.figures.tags import ShopCode, is_own_code, is_tag, parse_shop_code, show_tag

LONGEST = 4000
"""Signs in the longest scan that is looked at; no label holds more that matters here."""


@dataclass(frozen=True)
class ScanField:
    """One field of a label: identifier (GS1 or MH10.8.2), its name, its data as text."""

    identifier: str
    name: str
    value: str


@dataclass(frozen=True)
class Scan:
    """How one scan is understood.

    `kind`: tag, shop code, gs1, format 06, gtin, text (a number, serial or paper, or anything),
    digit triplets, wrong layout, refused or empty. `sure` is False when a person has to choose;
    `message` then says why. `numbers` are the part numbers a label carries, the likeliest first.
    """

    raw: str
    text: str
    kind: str
    sure: bool = True
    symbology: str | None = None
    tag: str | None = None
    code: ShopCode | None = None
    gtin: str | None = None
    numbers: tuple[str, ...] = ()
    serial: str | None = None
    lot: str | None = None
    fields: tuple[ScanField, ...] = ()
    candidates: tuple[Candidate, ...] = ()
    notes: tuple[str, ...] = ()
    message: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Return the scan for JSON."""
        return {
            **asdict(self),
            "candidates": [candidate.to_dict() for candidate in self.candidates],
            "fields": [asdict(field) for field in self.fields],
            "numbers": list(self.numbers),
            "notes": list(self.notes),
        }


def read_scan(text: str, *, separator: str | None = None) -> Scan:
    """Return how the keys of one scan, or a text typed in its place, are understood.

    `separator` is what this shop's scanners send for the separator of label data, for example a
    bar or `<GS>`; the group separator (1D) is always understood. Nothing raises: what cannot be
    read has kind "refused" and a message.
    """
    if len(text) > LONGEST:
        return Scan(text, text[:LONGEST], "refused", sure=False, message=_TOO_LONG)
    stripped = bare(text)
    if not stripped.text:
        return Scan(text, "", "empty", sure=False, message="Nothing was scanned.")
    scan = Scan(text, stripped.text, "text", symbology=stripped.symbology, notes=stripped.notes)
    told = separator or GS
    return (
        _own_code(scan)
        or _several_scans(scan)
        or _envelope(scan, told)
        or _gs1(scan, told, marked=stripped.marked_gs1)
        or _gtin(scan)
        or _triplets(scan)
        or _plain(scan)
    )


_TOO_LONG = f"This is longer than any label: more than {LONGEST} signs."
_TYPED = re.compile(r"[0-9][0-9 .-]*[0-9]")


def _own_code(scan: Scan) -> Scan | None:
    text = scan.text
    if is_own_code(text):
        return _as_own(scan, text, None)
    together = re.sub("[ .-]", "", text)
    if together != text and _TYPED.fullmatch(text) and is_own_code(together):
        return _as_own(scan, together, "Typed in groups.")
    undone = own_code_undone(text)
    if undone is not None:
        return _as_own(scan, undone.text, f"Read as {show_tag(undone.text)}: {undone.why}.")
    return None


def _as_own(scan: Scan, text: str, note: str | None) -> Scan:
    notes = scan.notes if note is None else (*scan.notes, note)
    if is_tag(text):
        return replace(scan, kind="tag", tag=text, notes=notes)
    return replace(scan, kind="shop code", code=parse_shop_code(text), notes=notes)


def _several_scans(scan: Scan) -> Scan | None:
    """Two scans that arrived in one field: lines, or an own code written twice."""
    parts = [part.strip() for part in re.split(r"[\r\n\t]+", scan.text)]
    half = len(scan.text) // 2
    if len(parts) == 1 and is_own_code(scan.text[:half]) and is_own_code(scan.text[half:]):
        parts = [scan.text[:half], scan.text[half:]]
    words = scan.text.split()
    if len(parts) == 1 and len(words) > 1 and all(map(is_own_code, words)):
        parts = words
    if len(parts) == 1:
        return None
    return replace(
        scan,
        kind="refused",
        sure=False,
        candidates=tuple(
            Candidate(part, "one of the scans", kind_of_own(part)) for part in dict.fromkeys(parts)
        ),
        message=f"{len(parts)} scans arrived as one; scan again, one at a time.",
    )


def _envelope(scan: Scan, separator: str) -> Scan | None:
    if not format06.has_envelope(scan.text):
        return None
    data = format06.spelled_out(scan.text, separator)
    stand_in = format06.stand_in_separator(data)
    if stand_in is not None:
        return _asked_separator(replace(scan, kind="format 06"), *stand_in)
    try:
        inner = format06.gs1_inside(data)
        if inner is not None:
            return _as_gs1(scan, inner, GS, marked=True)
        label = format06.parse_format06(data)
    except format06.BadEnvelope as error:
        return replace(scan, kind="refused", sure=False, message=str(error))
    missing = [] if label.serial else ["The label gives no serial: read it off the part."]
    if not label.numbers:
        missing.append("The label gives no part number.")
    return replace(
        scan,
        kind="format 06",
        numbers=label.numbers,
        serial=label.serial,
        lot=label.lot,
        fields=tuple(ScanField(f.identifier, f.name, f.value) for f in label.fields),
        notes=(*scan.notes, *label.notes),
        message=" ".join(missing),
    )


def _gs1(scan: Scan, separator: str, *, marked: bool) -> Scan | None:
    if scan.text.startswith(("(", "[")):
        return _brackets(scan)
    if not marked and (not gs1.starts_like_gs1(scan.text) or digit_triplets(scan.text)):
        return None
    separated = GS in scan.text or separator in scan.text
    stand_in = None if separated else gs1.stand_in_separator(scan.text)
    if stand_in is not None:
        sign, data = stand_in
        return _asked_separator(replace(scan, kind="gs1"), sign, data.in_brackets)
    return _as_gs1(scan, scan.text, separator, marked=marked)


def _asked_separator(scan: Scan, sign: str, read: str) -> Scan:
    """Return the question whether `sign` stands for the separator; `read` is the label if so."""
    shown = "blank" if sign == " " else sign
    return replace(
        scan,
        sure=False,
        candidates=(Candidate(read, f"with {shown} as the separator", "label"),),
        message=f"The sign {shown} may stand for the separator between two fields. If this "
        "scanner sends it so, set it as the separator in the shop's settings.",
    )


def _as_gs1(scan: Scan, text: str, separator: str, *, marked: bool) -> Scan:
    """Return `scan` with the GS1 data of `text`, put in doubt where a separator may be lost."""
    body = text.replace(separator, GS)
    try:
        data = gs1.parse_gs1(body)
    except gs1.BadGs1 as error:
        return replace(scan, kind="gs1", sure=False, message=str(error))
    read = _with_gs1(scan, data)
    if data.faults:
        read = replace(read, sure=False, message=" ".join(data.faults))
    return read if GS in body else _without_separator(read, data, marked)


def _without_separator(read: Scan, data: gs1.Gs1Data, marked: bool) -> Scan:
    """Return `read` put in doubt if a field may have run on, or if it may be no GS1 data at all."""
    others = gs1.lost_separator(data)
    if others:
        last = data.elements[-1]
        return replace(
            read,
            sure=False,
            candidates=(
                *(_label_candidate(other, "a lost separator put back") for other in others),
                _label_candidate(data, "as it arrived"),
            ),
            message=f"No separator was seen: the {last.name} '{last.value}' may be too long and "
            "hold the next field.",
        )
    if marked or data.elements[0].identifier in ("00", gs1.GTIN, "02"):
        return read
    return replace(
        read,
        sure=False,
        candidates=(
            _label_candidate(data, "read as GS1 data"),
            Candidate(read.text, "as a number, sign for sign"),
        ),
        message="This may be GS1 data, but nothing in front says so.",
    )


def _label_candidate(data: gs1.Gs1Data, why: str) -> Candidate:
    return Candidate(data.in_brackets, why, "label")


def _brackets(scan: Scan) -> Scan | None:
    printed = re.sub(r"\[(\d{2,4})\]", r"(\1)", scan.text)
    if not re.match(r"\(\d{2,4}\)", printed):
        return None
    try:
        data = gs1.parse_brackets(printed)
    except gs1.BadGs1 as error:
        return replace(scan, kind="refused", sure=False, message=str(error))
    read = _with_gs1(scan, data)
    return replace(read, sure=not data.faults, message=" ".join(data.faults))


def _with_gs1(scan: Scan, data: gs1.Gs1Data) -> Scan:
    return replace(
        scan,
        kind="gs1",
        gtin=data.get(gs1.GTIN),
        numbers=tuple(v for v in map(data.get, gs1.PART_NUMBERS) if v is not None),
        serial=data.get(gs1.SERIAL),
        lot=data.get(gs1.LOT),
        fields=tuple(
            ScanField(e.identifier, e.name, e.value if e.day is None else e.day.isoformat())
            for e in data.elements
        ),
    )


def _gtin(scan: Scan) -> Scan | None:
    if len(scan.text) >= 12 and gs1.is_gtin(scan.text):
        return replace(scan, kind="gtin", gtin=scan.text.zfill(14))
    return None


def _triplets(scan: Scan) -> Scan | None:
    decoded = digit_triplets(scan.text)
    if decoded is None:
        return None
    inner = read_scan(decoded)
    return replace(
        scan,
        kind="digit triplets",
        sure=False,
        candidates=(
            Candidate(inner.text, "a few digits stand for each sign", kind_of_own(inner.text)),
        ),
        message=f"The scanner seems to be in ALT mode: it types each sign as its number. This "
        f"would be '{inner.text}'. Switch that mode off.",
    )


def _plain(scan: Scan) -> Scan:
    label = label_damage(scan.text)
    if label:
        whys = "; or ".join(candidate.why for candidate in label)
        return replace(
            scan,
            kind="refused",
            sure=False,
            message=f"This is a label with several fields, damaged on its way: {whys}. "
            "Set both to the same keyboard and scan again.",
        )
    try:
        text = clean_number(scan.text, "scan")
    except BadNumber as error:
        return replace(scan, kind="refused", sure=False, message=str(error))
    damage = layout_damage(text)
    if damage:
        return replace(
            scan,
            kind="wrong layout",
            sure=False,
            candidates=damage,
            message=f"'{text}' holds signs that no number here uses. Perhaps "
            + "; perhaps ".join(f"{c.why}: it would be {c.text}" for c in damage)
            + ".",
        )
    candidates = _repaired(text)
    if not candidates:
        return scan
    return replace(
        scan,
        sure=False,
        candidates=candidates,
        message=f"{text} may have lost a digit or hold a letter for a digit.",
    )


def _repaired(text: str) -> tuple[Candidate, ...]:
    """Return whole codes that a text of digits, one lost or mistyped, may stand for."""
    found = [
        Candidate(
            whole,
            "with the leading zero" if whole.endswith(text) else "with the check digit",
            "gtin",
        )
        for whole in gs1.eleven_digits(text)
    ]
    if is_own_code(f"0{text}") or is_own_code(f"00{text}"):
        whole = f"0{text}" if is_own_code(f"0{text}") else f"00{text}"
        found.append(Candidate(whole, "with the leading zero", "shop code"))
    digits = letters_read_as_digits(re.sub("[ .-]", "", text))
    if digits != text and digits.isdigit() and not text.isdigit() and is_own_code(digits):
        found.append(Candidate(digits, "letters read as digits", kind_of_own(digits)))
    return tuple(found)
