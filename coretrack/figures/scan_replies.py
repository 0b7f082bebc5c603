"""What a station answers to a scan: one large word, one line, and what the page does next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

TONES = ("good", "ask", "stop", "note")
"""How a result looks and sounds: done; a question; refused; only said. Each has its own shape."""


@dataclass(frozen=True)
class Offer:
    """Something the person can choose: `text` as shown, `scan` what is sent when it is chosen."""

    text: str
    scan: str


@dataclass(frozen=True)
class ScanReply:
    """The answer to one scan.

    `word` is read at arm's length (one or two words), `line` says it in a sentence, `detail` adds
    what else has to be known. `target` and `code` name the page to open next ("core", "delivery",
    "customer", "lot", "label" … and its key), empty to stay. `print_tags` are cores whose labels
    are wanted now. `undo` is what can be taken back, in words, empty when nothing can. `repeat`
    marks a scan that came twice and acted once.
    """

    tone: str
    word: str
    line: str
    detail: str = ""
    target: str = ""
    code: str = ""
    offers: tuple[Offer, ...] = ()
    print_tags: tuple[str, ...] = ()
    undo: str = ""
    repeat: bool = False

    def to_dict(self) -> dict[str, Any]:
        """Return the reply as plain JSON values."""
        return asdict(self)


def reply_from_dict(told: Mapping[str, Any]) -> ScanReply:
    """Return the reply that `to_dict` wrote."""
    return ScanReply(
        **{
            **told,
            "offers": tuple(Offer(**offer) for offer in told.get("offers", ())),
            "print_tags": tuple(told.get("print_tags", ())),
        }
    )


@dataclass(frozen=True)
class Shown:
    """One of the last results on the page: the reply's words and when (shop's clock, HH:MM:SS)."""

    tone: str
    word: str
    line: str
    at: str


@dataclass(frozen=True)
class Spot:
    """Where a scan was made: the page ("home", "delivery", "lot", "core", "list") and its key.

    `seen` is the fingerprint of the proposal the person had before them, empty when none was
    shown; `at` the page's own clock in milliseconds, 0 when it did not say.
    """

    page: str = "home"
    code: str = ""
    seen: str = ""
    at: int = 0
    extra: Mapping[str, Any] = field(default_factory=dict)
