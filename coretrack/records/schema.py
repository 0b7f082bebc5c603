"""Schema versions: what is pending, bringing a database up to date, refusing a newer one."""

from __future__ import annotations

from pathlib import Path

import peewee
from playhouse.migrations import Runner

from coretrack.errors import Unavailable
from coretrack.records.database import connection, database, is_sqlite

_FOLDER = Path(__file__).parent / "migrations"

# One number for all upgrades of coretrack databases on a PostgreSQL server.
_ADVISORY_LOCK = 7_064_097_010


def _runner() -> Runner:
    return Runner(database.obj, str(_FOLDER), table_name="schema_migration")


def pending() -> list[str]:
    """Return the names of the steps this database still lacks.

    Unavailable when it was made by a newer coretrack, or holds tables that are not coretrack's.
    """
    with connection():
        # Asked first: tables that another process makes meanwhile are no foreign ones.
        tables = set(database.get_tables()) - {"schema_migration"}
        steps = _runner().status()
        unknown = [step.name for step in steps if step.path is None]
        if unknown:
            raise Unavailable(
                f"This database was made by a newer coretrack (it has step '{unknown[-1]}'); "
                "use that version, or a database of its own."
            )
        waiting = [step.name for step in steps if not step.applied]
        if tables and len(waiting) == len(steps):
            raise Unavailable(
                "This database holds tables that coretrack did not make "
                f"({', '.join(sorted(tables)[:3])} …); give coretrack a database of its own."
            )
        return waiting


def upgrade() -> list[str]:
    """Apply the pending steps, each in its own transaction; return their names."""
    with connection():
        applied: list[str] = []
        if is_sqlite():
            while waiting := pending():
                try:
                    applied += _runner().up(waiting[0])
                except peewee.DatabaseError:
                    # Another process may have applied this very step meanwhile.
                    if pending() == waiting:
                        raise
            broken = database.execute_sql("PRAGMA foreign_key_check").fetchall()
            if broken:
                raise Unavailable(f"The database has broken references after upgrading: {broken}")
        else:
            database.execute_sql("SELECT pg_advisory_lock(%s)", (_ADVISORY_LOCK,))
            try:
                for name in pending():
                    applied += _runner().up(name)
            finally:
                database.execute_sql("SELECT pg_advisory_unlock(%s)", (_ADVISORY_LOCK,))
        return applied


def require_current() -> None:
    """Raise Unavailable when steps are pending."""
    if waiting := pending():
        raise Unavailable(
            f"The database needs an upgrade first ({', '.join(waiting)}): run 'coretrack setup'."
        )
