"""Drafts: what a person has begun at a page and not finished, kept so that nothing typed is lost.

Kept and dropped inside the action's transaction: a draft goes in the very moment in which what it
held is stored.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coretrack.records import drafts
from coretrack.records.drafts import Draft
from coretrack.records.writer import Writer

__all__ = ["Draft", "drafts_beginning", "drop_draft", "keep_draft", "read_draft"]


def read_draft(key: str) -> dict[str, Any] | None:
    """Return what a draft holds, or None when there is none. Call with a connection."""
    found = drafts.read(key)
    return dict(found.body) if found else None


def drafts_beginning(start: str) -> list[Draft]:
    """Return the drafts whose key begins so. Call with a connection."""
    return drafts.beginning(start)


def keep_draft(writer: Writer, key: str, body: Mapping[str, Any]) -> None:
    """Keep a draft of the writer's person, in place of what was under the key."""
    drafts.keep(key, writer.by, writer.at, body)


def drop_draft(writer: Writer, key: str) -> bool:
    """Remove a draft; return whether there was one. The writer is the transaction it goes with."""
    del writer
    return drafts.drop(key)
