"""The large panel over the work: what was said last, or what the page itself has to say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from flask import flash, get_flashed_messages

from coretrack.figures.scan_replies import ScanReply

SAID = "said"
"""The kind of flashed message that the panel shows instead of a line among the others."""

FAULTS = ("problems", "crack_problems", "wrong", "problem")
"""What pages call the faults of a form that came back; station.html leads to the first field."""


@dataclass(frozen=True)
class Panel:
    """What the panel says; `proposed` is a core in hand that waits, `rest` that nothing waits."""

    tone: str
    word: str
    line: str
    detail: str = ""
    proposed: bool = False
    rest: bool = False


READY = Panel(
    "note", "READY", "Scan a tag, a number, a paper, or type it and press Enter.", rest=True
)


def panel_of(reply: ScanReply, *, proposed: bool = False) -> Panel:
    """Return a reply's words as the panel shows them."""
    return Panel(reply.tone, reply.word, reply.line, reply.detail, proposed)


def say(tone: str, word: str, line: str, detail: str = "") -> None:
    """Have the next page's panel say this."""
    flash(asdict(Panel(tone, word, line, detail)), SAID)  # type: ignore[arg-type]


def panel_now(page: Any) -> Panel:
    """Return what the panel says on a page: why its form was refused, else what waits there.

    Else it is what was just done, else READY. Results of earlier scans are history and stand in the
    list of the last ones.
    """
    if refused := why_refused(page):
        return Panel("stop", "NOT STORED", refused)
    own: Panel | None = getattr(page, "panel", None)
    if own is not None:
        return own
    told = get_flashed_messages(category_filter=[SAID])
    return Panel(**told[-1]) if told else READY  # type: ignore[arg-type]


def why_refused(page: Any) -> str:
    """Return why the form that came back with this page was not stored: its first fault, or "".

    Pages keep their faults by field in one of FAULTS; the whole message, where there is one, stands
    under no name or beside them.
    """
    for name in FAULTS:
        faults = getattr(page, name, None)
        if isinstance(faults, Mapping):
            whole = faults.get("") or getattr(page, "message", "")
            first = whole or next((fault for fault in faults.values() if fault), "")
        else:
            first = faults
        if first:
            return str(first)
    return ""


def also_said(panel: Panel) -> list[Panel]:
    """Return what was said for this page and is not what its panel says."""
    told = [Panel(**message) for message in get_flashed_messages(category_filter=[SAID])]  # type: ignore[arg-type]
    return [one for one in told if (one.word, one.line) != (panel.word, panel.line)]
