"""What is typed of a core at the bench and not stored yet: one draft a core, for all stations.

Whoever opens the core anywhere sees the same readings. Each change has a number, so that a page
can be told when somebody else typed since it was drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from coretrack.actions import drafts
from coretrack.figures.core_facts import INSPECTABLE, CoreFacts
from coretrack.figures.core_story import StateShown, state_shown
from coretrack.figures.plain_words import counted
from coretrack.records.drafts import Draft
from coretrack.records.writer import Writer

START = "bench/"
KEPT_CHANGES = 60


@dataclass(frozen=True)
class Entry:
    """One reading or word as typed: `value` in millionths of the check's unit, or a `result`.

    `by`, `station` and `at` (UTC) say who typed it, where and when; `overdue` that the gauge's
    check was. `detail` is what was told of a crack in words, `crack` the same in parts
    (figures/cracks.py); `stamps` say which check of the day's lamp or bath was missing.
    """

    check: str
    typed: str
    value: int | None = None
    result: str = ""
    detail: str = ""
    gauge: str = ""
    overdue: bool = False
    by: str = ""
    station: str = ""
    at: str = ""
    crack: Mapping[str, Any] = field(default_factory=dict)
    stamps: tuple[str, ...] = ()


@dataclass(frozen=True)
class Asked:
    """A reading that was asked back: the entry as it was typed (its value may be insisted on)."""

    entry: Entry
    text: str
    suggestions: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True)
class Change:
    """That the draft changed: its number, whose doing it was, and what ("typed", "asked" …)."""

    step: int
    by: str
    station: str
    what: str
    text: str = ""


@dataclass(frozen=True)
class BenchHand:
    """A core's draft. `at_check` is the check somebody chose, empty for the next one in order.

    `withdrawn` are entries that were taken back, `aside` what was typed and could not be taken
    where it came, so that nothing is lost. `plan` is the one it was begun by, as `FAMILY/VERSION`;
    a newer version does not count for what is typed. `start` begins the draft's key: a blind second
    look has a draft of its own, which no page of the bench shows.
    """

    tag: str
    entries: tuple[Entry, ...] = ()
    at_check: str = ""
    asked: Asked | None = None
    withdrawn: tuple[Entry, ...] = ()
    aside: tuple[Entry, ...] = ()
    changes: tuple[Change, ...] = ()
    step: int = 0
    plan: str = ""
    start: str = START

    @property
    def begun(self) -> bool:
        """Whether anything is typed that a verdict would lose."""
        return bool(self.entries or self.aside or self.asked)

    def of_check(self, code: str) -> tuple[Entry, ...]:
        """Return what is typed at one check, in the order typed."""
        return tuple(entry for entry in self.entries if entry.check == code)

    def people(self) -> tuple[str, ...]:
        """Return who typed something, the last one last."""
        return tuple(dict.fromkeys(reversed([entry.by for entry in reversed(self.entries)])))


def hand_key(tag: str, start: str = START) -> str:
    """Return the key of a core's draft."""
    return f"{start}{tag}"


def hand_of(tag: str, start: str = START) -> BenchHand:
    """Return what is typed of a core. Call with a connection."""
    body = drafts.read_draft(hand_key(tag, start))
    found = _from_body(tag, body) if body else BenchHand(tag)
    return replace(found, start=start)


def state_at_bench(core: CoreFacts, hand: BenchHand, *, complete: bool = False) -> StateShown:
    """Return a core's state in words, with what is typed of it and not stored.

    `complete` says that every check has what it takes.
    """
    if core.state not in INSPECTABLE or not hand.entries:
        return state_shown(core)
    if complete:
        return StateShown("every check entered, verdict not stored", "ask")
    entered = counted(len(hand.entries), "entry")
    return StateShown(f"being inspected, {entered}, no verdict stored", "wait")


def hands_begun() -> list[tuple[BenchHand, Draft]]:
    """Return the drafts of all cores somebody has begun. Call with a connection."""
    found = drafts.drafts_beginning(START)
    return [(_from_body(draft.key.removeprefix(START), draft.body), draft) for draft in found]


def keep_hand(writer: Writer, hand: BenchHand, what: str, text: str = "") -> BenchHand:
    """Keep a changed draft under its next number and return it."""
    change = Change(hand.step + 1, writer.by, writer.station, what, text)
    kept = replace(hand, step=hand.step + 1, changes=(*hand.changes, change)[-KEPT_CHANGES:])
    body = asdict(kept)
    del body["tag"], body["start"]
    drafts.keep_draft(writer, hand_key(hand.tag, hand.start), body)
    return kept


def drop_hand(writer: Writer, tag: str, start: str = START) -> bool:
    """Remove a core's draft; return whether there was one."""
    return drafts.drop_draft(writer, hand_key(tag, start))


def add_entry(writer: Writer, hand: BenchHand, entry: Entry) -> BenchHand:
    """Add one entry of the writer's person; it takes the place of a reading that was asked back."""
    withdrawn = hand.withdrawn
    if hand.asked is not None:
        withdrawn = (*withdrawn, hand.asked.entry)
    changed = replace(hand, entries=(*hand.entries, entry), asked=None, withdrawn=withdrawn)
    return keep_hand(writer, changed, "typed", entry.typed)


def _from_body(tag: str, body: Mapping[str, Any]) -> BenchHand:
    asked = body["asked"]
    return BenchHand(
        tag=tag,
        entries=_entries(body["entries"]),
        at_check=body["at_check"],
        asked=asked
        and Asked(
            _entry(asked["entry"]),
            asked["text"],
            tuple((value, text) for value, text in asked["suggestions"]),
        ),
        withdrawn=_entries(body["withdrawn"]),
        aside=_entries(body["aside"]),
        changes=tuple(Change(**change) for change in body["changes"]),
        step=body["step"],
        plan=body.get("plan", ""),
    )


def _entries(told: list[Mapping[str, Any]]) -> tuple[Entry, ...]:
    return tuple(_entry(entry) for entry in told)


def _entry(told: Mapping[str, Any]) -> Entry:
    return Entry(**{**told, "stamps": tuple(told.get("stamps", ()))})
