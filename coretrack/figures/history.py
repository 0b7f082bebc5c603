"""The chain that makes a changed history visible: canonical text and SHA-256 (FIPS 180-4)."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from typing import Any

START = "0" * 64
"""What the first event of an object stands on."""

_encode = json.JSONEncoder(
    sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False
).encode


def canonical(value: Any) -> str:
    """Return `value` as the one JSON text it can have here; ValueError for NaN or infinity."""
    return _encode(value)


def event_hash(previous: str, body: str) -> str:
    """Return the hash of an event whose canonical text is `body`, chained to `previous`."""
    return hashlib.sha256(f"{previous}\n{body}".encode()).hexdigest()


def event_body(
    *,
    object_kind: str,
    object_key: str,
    sequence: int,
    event: str,
    at: str,
    by: str,
    station: str,
    detail: Mapping[str, Any],
    why: str,
) -> str:
    """Return the canonical text of an event: who, when, where, what and why."""
    return canonical(
        {
            "kind": object_kind,
            "key": object_key,
            "sequence": sequence,
            "event": event,
            "at": at,
            "by": by,
            "station": station,
            "detail": detail,
            "why": why,
        }
    )


def seal_digest(heads: Iterable[tuple[str, str, int, str]]) -> str:
    """Return one digest over all chain heads (kind, key, sequence, hash), in any order."""
    lines = "\n".join(canonical(list(head)) for head in sorted(heads))
    return hashlib.sha256(lines.encode()).hexdigest()
