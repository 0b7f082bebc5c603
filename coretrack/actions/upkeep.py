"""Looking after the books: verifying and sealing the history."""

from __future__ import annotations

from datetime import datetime

from coretrack.records import verify as records_verify
from coretrack.records.database import connection, transaction
from coretrack.records.verify import Difference


def verify() -> tuple[int, list[Difference]]:
    """Return how many events were replayed, and everything stored that they do not bear out."""
    return records_verify.verify()


def seal(now: datetime) -> None:
    """Seal all chain heads as they stand."""
    with connection(), transaction():
        records_verify.write_seal(now)


def seal_if_due(now: datetime) -> bool:
    """Seal when there is no seal of this UTC day yet; return whether it was written."""
    with connection():
        # Asked first without waiting for anybody: most often the day is sealed.
        if records_verify.sealed_on(now):
            return False
    with connection(), transaction():
        records_verify.hold_writers()
        if records_verify.sealed_on(now):
            return False
        records_verify.write_seal(now)
        return True
