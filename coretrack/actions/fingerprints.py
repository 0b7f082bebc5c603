"""What a person saw when they said yes: a proposal in a few signs, to be held against the next one.

Five parts with a tilde between: a digest of everything that matters, how many units of the line
were owed, the outcome, the credit, and the line. What the line still owes is part of it, so that a
page sees it move; but only the digest decides, for two clerks may work on one line of six.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from coretrack.figures.history import canonical
from coretrack.figures.money import Money


@dataclass(frozen=True)
class Seen:
    """A fingerprint taken apart."""

    digest: str
    owed: int
    outcome: str
    credit: Money
    line: str


def fingerprint(outcome: str, line: str, owed: int, credit: Money, told: Sequence[object]) -> str:
    """Return the fingerprint of a proposal; `told` is everything else a person decided on."""
    body = canonical([outcome, line, credit, list(told)])
    digest = hashlib.sha256(body.encode()).hexdigest()[:16]
    return "~".join([digest, str(owed), outcome, str(credit), line])


def seen(text: str) -> Seen | None:
    """Return the parts of a fingerprint, or None when it is none."""
    parts = text.split("~", 4)
    try:
        digest, owed, outcome, credit, line = parts
        return Seen(digest, int(owed), outcome, int(credit), line)
    except ValueError:
        return None


def same_decision(one: str, other: str) -> bool:
    """Return whether both ask a person for the same yes."""
    first, second = seen(one), seen(other)
    return first is not None and second is not None and first.digest == second.digest
