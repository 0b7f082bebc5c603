"""Labels in the ISO/IEC 15434 envelope, format 06, with ANS MH10.8.2 data identifiers.

The envelope is `[)>` RS `06` GS data GS data … RS EOT. Scanners lose the record separators and
the end sign or put a sign in front; that is read all the same, and said. What each identifier
means: P, Q, V, S, T, K, 2S, 4S, 36S, 37S from published label guides, the others from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from coretrack.figures.scan_text import EOT, GS, RS

IDENTIFIERS = {
    "P": "customer's part number",
    "1P": "supplier's part number",
    "2P": "revision",
    "S": "serial",
    "T": "lot",
    "1T": "lot",
    "Q": "quantity",
    "K": "order",
    "V": "supplier",
    "2S": "shipment",
    "4S": "package",
    "36S": "pallet",
    "25S": "unique item identifier",
    "37S": "unique item identifier",
    "42S": "unique item identifier",
    "4L": "country of origin",
    "9D": "date",
    "16D": "production date",
}

_ENVELOPE = re.compile(r"\[\)>")
_FIELD = re.compile(r"([0-9]{0,3}[A-Za-z])(.*)", re.DOTALL)


class BadEnvelope(ValueError):
    """The label data cannot be read; the message says what is missing."""


@dataclass(frozen=True)
class Field:
    """One field of a label: identifier, what it means (or "unknown field"), data as text."""

    identifier: str
    name: str
    value: str


@dataclass(frozen=True)
class Format06:
    """The fields of a label, with what had to be put up with (`notes`)."""

    fields: tuple[Field, ...]
    notes: tuple[str, ...]

    def get(self, *identifiers: str) -> str | None:
        """Return the data of the first of `identifiers` on the label, None when there is none."""
        for identifier in identifiers:
            for field in self.fields:
                if field.identifier == identifier:
                    return field.value
        return None

    @property
    def numbers(self) -> tuple[str, ...]:
        """The part numbers on the label, the supplier's first, each once."""
        return tuple(
            dict.fromkeys(
                field.value
                for wanted in ("1P", "P")
                for field in self.fields
                if field.identifier == wanted
            )
        )

    @property
    def serial(self) -> str | None:
        """The serial (S); a lot is never taken for one."""
        return self.get("S")

    @property
    def lot(self) -> str | None:
        """The lot or traceability number (T, 1T)."""
        return self.get("T", "1T")


def has_envelope(text: str) -> bool:
    """Return whether `text` begins as an envelope, one or two stray signs in front or not."""
    return bool(_ENVELOPE.search(text[:5]))


_SPELLED = re.compile(r"[<\[{(](GS|RS|EOT)[>\]})]|([\u241d\u241e\u2404])", re.IGNORECASE)
_SIGNS = {"GS": GS, "RS": RS, "EOT": EOT, "\u241d": GS, "\u241e": RS, "\u2404": EOT}


def spelled_out(text: str, separator: str = GS) -> str:
    """Return label data with its control signs, where a scanner spells them out.

    Read are `<GS>`, `{RS}`, `[EOT]` and the like, the pictures of control signs (␝ ␞ ␄), and
    `separator`, which a scanner may be set to send for the separators of fields and records.
    """
    data = _SPELLED.sub(lambda found: _SIGNS[(found[1] or found[2]).upper()], text)
    head, bracket, body = data.partition("[)>")
    if separator != GS and body.startswith(separator):
        body = body.removeprefix(separator)
        data = head + bracket + RS + body
    return data.replace(separator, GS)


def stand_in_separator(text: str) -> tuple[str, str] | None:
    """Return the sign that seems to stand for the separators and the label data so read.

    Such a sign stands behind the format's number; None when there is none or nothing is read so.
    """
    found = re.search(r"\[\)>.?0[56]([^\w\s])", text)
    if found is None or GS in text:
        return None
    data = spelled_out(text, found[1])
    try:
        parse_format06(data)
    except BadEnvelope:
        return None
    return found[1], data


def gs1_inside(text: str) -> str | None:
    """Return the GS1 data of an envelope of format 05, None when it is of another format."""
    found = re.search(rf"\[\)>{RS}?05{GS}([^{RS}{EOT}]+)", text)
    return found[1] if found else None


def parse_format06(text: str, separators: Iterable[str] = (GS,)) -> Format06:
    """Return the fields of a label; BadEnvelope when it is another format or holds no field."""
    start = _ENVELOPE.search(text)
    if start is None:
        raise BadEnvelope("This is no label envelope: it does not begin with [)>.")
    notes = []
    if text[: start.start()].strip():
        notes.append(f"Stray signs '{_seen(text[: start.start()])}' in front were left out.")
    body = text[start.end() :]
    if not body.startswith(RS):
        notes.append("The record separator behind [)> is missing; read without it.")
    body = body.removeprefix(RS).lstrip(" ")
    if not _seen(body):
        raise BadEnvelope("The label breaks off after its first signs; scan it again.")
    if body[:2] != "06":
        raise BadEnvelope(
            f"This label is of format '{_seen(body[:2])}'; only formats 05 and 06 are read here."
        )
    body = body[2:]
    if RS not in body:
        notes.append("The end of the record is missing; the last field may be cut short.")
    elif EOT not in body:
        notes.append("The end sign of the label is missing.")
    return Format06(_fields(body, separators, notes), tuple(notes))


def _fields(body: str, separators: Iterable[str], notes: list[str]) -> tuple[Field, ...]:
    marks = "".join(separators)
    if not any(mark in body for mark in marks):
        raise BadEnvelope(
            "The separators between the fields are missing: the scanner has to send them "
            "(group separator, 1D)."
        )
    fields = []
    for part in re.split(f"[{re.escape(marks + RS + EOT)}]", body):
        if not part.strip():
            continue
        match = _FIELD.fullmatch(part.strip())
        if match is None:
            notes.append(f"'{_seen(part)}' begins with no data identifier and was left out.")
            continue
        identifier, value = match[1], match[2].strip()
        if identifier != identifier.upper():
            notes.append(f"Identifier {identifier} arrived in lower case: Caps Lock may be on.")
            identifier = identifier.upper()
        if not value:
            notes.append(f"The field {identifier} is empty.")
            continue
        fields.append(Field(identifier, IDENTIFIERS.get(identifier, "unknown field"), value))
    if not fields:
        raise BadEnvelope("The label holds no field.")
    return tuple(fields)


def _seen(text: str) -> str:
    return "".join(sign if sign.isprintable() else " " for sign in text).strip()
