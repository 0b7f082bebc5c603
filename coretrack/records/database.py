"""The one database of the process: opening, this thread's connection, transactions."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import peewee
from peewee import DatabaseProxy

from coretrack.errors import InvalidInput, Unavailable

database = DatabaseProxy()

# SQLite lets one writer in at a time and its busy handler is not fair: without this lock one
# station out of eight waits for seconds while the others pass it by.
_write_lock = threading.RLock()

_SQLITE_PRAGMAS = {
    "journal_mode": "wal",
    "foreign_keys": 1,
    "recursive_triggers": 1,
    "synchronous": "full",
    "busy_timeout": 10_000,
}


def open_database(url: str, threads: int = 8) -> peewee.Database:
    """Bind the process to `url`: `sqlite:///path`, a plain path, or `postgresql://…`."""
    scheme = urlsplit(url).scheme
    if scheme in ("postgresql", "postgres"):
        engine = _postgresql(url, threads)
    elif scheme == "sqlite":
        engine = _sqlite(Path(url.removeprefix("sqlite:///")))
    elif "://" in url:
        raise InvalidInput(
            f"The database address '{scheme}://…' is not known; "
            "use sqlite:///path/to/file or postgresql://user@host/name."
        )
    else:
        engine = _sqlite(Path(url))
    database.initialize(engine)
    return engine


def _sqlite(path: Path) -> peewee.Database:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise Unavailable(f"The data folder {path.parent} cannot be made: {error}.") from error
    return peewee.SqliteDatabase(
        str(path),
        pragmas=_SQLITE_PRAGMAS,
        lock_type="IMMEDIATE",
        timeout=10,
        autoconnect=False,
    )


def _postgresql(url: str, threads: int) -> peewee.Database:
    try:
        import psycopg
        from playhouse.postgres_ext import PooledPsycopg3Database
    except ImportError as error:
        raise InvalidInput(
            'PostgreSQL needs one more package: pip install "coretrack[postgres]".'
        ) from error
    parts = urlsplit(url)
    options: dict[str, Any] = {
        "host": parts.hostname,
        "port": parts.port,
        "user": unquote(parts.username) if parts.username else None,
        "password": unquote(parts.password) if parts.password else None,
    }
    return PooledPsycopg3Database(  # type: ignore[no-any-return]
        parts.path.lstrip("/"),
        max_connections=threads + 4,
        stale_timeout=300,
        timeout=10,
        autoconnect=False,
        # Binding on the client keeps grouped literals and long inserts working.
        cursor_factory=psycopg.ClientCursor,
        connect_timeout=5,
        options="-c timezone=UTC",
        **{name: value for name, value in options.items() if value is not None},
    )


def is_sqlite() -> bool:
    """Return whether the open database is SQLite."""
    return isinstance(database.obj, peewee.SqliteDatabase)


def acquire() -> bool:
    """Open this thread's connection; return whether this call opened it.

    Unavailable when the database cannot be reached, or when SQLite lies on a disk where
    write-ahead logging does not work (a shared folder): damage would follow without a word.
    """
    if not database.is_closed():
        return False
    try:
        database.connect()
    except (peewee.OperationalError, peewee.InterfaceError, ValueError) as error:
        raise Unavailable(f"The database cannot be opened: {error}") from error
    if is_sqlite():
        mode = database.execute_sql("PRAGMA journal_mode").fetchone()[0]
        if mode != "wal":
            database.close()
            raise Unavailable(
                f"The database answers journal mode '{mode}' instead of 'wal': it must lie on a "
                "disk of this computer, not on a shared or network folder."
            )
    return True


def release() -> None:
    """Close this thread's connection."""
    if not database.is_closed():
        database.close()


@contextmanager
def connection() -> Iterator[None]:
    """Hold a connection for the block, closing it only when this block opened it."""
    opened = acquire()
    try:
        yield
    finally:
        if opened:
            release()


@contextmanager
def transaction() -> Iterator[None]:
    """Run the block as one write transaction; whatever it raises rolls everything back."""
    try:
        if is_sqlite():
            with _write_lock, database.atomic():
                yield
        else:
            with database.atomic():
                yield
    except peewee.OperationalError as error:
        raise Unavailable(_plain_reason(str(error))) from error


def _plain_reason(reason: str) -> str:
    if "full" in reason or "disk I/O" in reason:
        return f"The disk has no room or cannot be written ({reason}). Nothing was stored."
    if "locked" in reason:
        return f"The database is busy with another long write ({reason}). Nothing was stored."
    return f"The database could not store this ({reason}). Nothing was stored."
