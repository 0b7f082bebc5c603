"""The one database of the process: opening, this thread's connection, transactions."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, unquote, urlsplit

import peewee
from peewee import DatabaseProxy
from playhouse.pool import PooledDatabase

from coretrack.errors import InvalidInput, Unavailable

database = DatabaseProxy()

# SQLite lets one writer in at a time and its busy handler is not fair: without this lock one
# station out of eight waits for seconds while the others pass it by.
_write_lock = threading.RLock()

_OPENING_SECONDS = 10

_kept = threading.local()

_SQLITE_PRAGMAS = {
    "journal_mode": "wal",
    "foreign_keys": 1,
    "recursive_triggers": 1,
    "synchronous": "full",
    "busy_timeout": 10_000,
}


def open_database(url: str, threads: int = 8) -> peewee.Database:
    """Bind the process to `url`: `sqlite:///path`, a plain path, or `postgresql://…`.

    A database opened before is let go: its pooled connections are closed.
    """
    close_database()
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


def close_database() -> None:
    """Close this thread's connection and every pooled one of the open database, if there is one."""
    if database.obj is None:
        return
    release()
    if isinstance(database.obj, PooledDatabase):
        database.obj.close_all()


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
    # What stands behind the question mark (sslmode, sslrootcert …) is for the driver.
    options: dict[str, Any] = dict(parse_qsl(parts.query)) | {
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
        **{
            "connect_timeout": 5,
            "options": "-c timezone=UTC",
            **{name: value for name, value in options.items() if value is not None},
        },
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
        _connect()
        mode = database.execute_sql("PRAGMA journal_mode").fetchone()[0] if is_sqlite() else "wal"
    except (
        peewee.DatabaseError,
        peewee.InterfaceError,
        sqlite3.DatabaseError,
        ValueError,
    ) as error:
        release()
        hint = _opening_hint(str(error))
        raise Unavailable(f"The database cannot be opened: {error}{hint}") from error
    if mode != "wal":
        release()
        raise Unavailable(
            f"The database answers journal mode '{mode}' instead of 'wal': it must lie on a "
            "disk of this computer, not on a shared or network folder."
        )
    return True


def _connect() -> None:
    """Connect; wait while another process switches a new SQLite file to its log.

    SQLite answers "locked" at once to whoever opens the file during that switch, without asking
    its busy handler.
    """
    give_up = time.monotonic() + _OPENING_SECONDS
    while True:
        try:
            database.connect()
            return
        except peewee.OperationalError as error:
            release()
            if "locked" not in str(error) or time.monotonic() > give_up:
                raise
            time.sleep(0.02)


def release() -> None:
    """Close this thread's connection."""
    if not database.is_closed():
        database.close()


@contextmanager
def connection() -> Iterator[None]:
    """Hold a connection for the block, closing it only when this block opened it.

    Between `keep_connection` and `let_connection_go` it stays open for the next block.
    Unavailable when the database fails the block (gone, damaged, no room).
    """
    opened = acquire()
    try:
        yield
    except (peewee.DatabaseError, sqlite3.DatabaseError) as error:
        if not _is_outage(error):
            raise
        raise Unavailable(_plain_reason(_first_reason(error))) from error
    finally:
        if opened and not getattr(_kept, "on", False):
            release()


def keep_connection() -> None:
    """Let this thread's next connection stay open for every block until it is let go.

    Opening SQLite asks for its settings, and closing the last connection empties its log: once a
    request is enough. Nothing is opened here, and what is open already is left to its block.
    """
    _kept.on = database.obj is None or database.is_closed()


def let_connection_go() -> None:
    """Close the connection that was kept, if there was one."""
    if getattr(_kept, "on", False) and database.obj is not None:
        release()
    _kept.on = False


@contextmanager
def held_open() -> Iterator[None]:
    """Keep an SQLite file open for the block, whoever opens and closes connections to it.

    Closing the last connection moves the whole log into the file and waits for the disk; while
    pages are served that would come at the end of nearly every request. A server needs no such
    help, its connections stay.
    """
    link = None
    if is_sqlite():
        link = sqlite3.connect(database.database, check_same_thread=False)
        # Opened for good only once something was read; no transaction stays behind.
        link.execute("SELECT count(*) FROM sqlite_master").fetchone()
    try:
        yield
    finally:
        if link is not None:
            link.close()


@contextmanager
def transaction() -> Iterator[None]:
    """Run the block as one write transaction; whatever it raises rolls everything back.

    Unavailable when the database cannot store it now, InvalidInput when it never could.
    """
    try:
        if is_sqlite():
            with _write_lock, database.atomic():
                yield
        else:
            with database.atomic():
                yield
    except (peewee.DataError, OverflowError) as error:
        raise InvalidInput(
            f"A value is too large, or holds a sign, that cannot be stored ({error}). "
            "Nothing was stored."
        ) from error
    except (peewee.DatabaseError, sqlite3.DatabaseError) as error:
        if not _is_outage(error):
            raise
        raise Unavailable(_plain_reason(_first_reason(error))) from error


@contextmanager
def snapshot() -> Iterator[None]:
    """Let the block read one state of the database, whatever others store meanwhile."""
    with connection(), database.atomic("DEFERRED" if is_sqlite() else "REPEATABLE READ"):
        yield


def _is_outage(error: peewee.DatabaseError | sqlite3.DatabaseError) -> bool:
    """Return whether the database failed, rather than the question put to it being wrong.

    A damaged SQLite file is reported as the bare base class, by the driver itself when it shows
    only as rows are fetched.
    """
    return type(error).__name__ in ("OperationalError", "InternalError", "DatabaseError")


def _first_reason(error: BaseException) -> str:
    """Return what went wrong first: SQLite ends a transaction itself when the disk is full."""
    while "no transaction is active" in str(error) and error.__context__ is not None:
        error = error.__context__
    return str(error)


def _opening_hint(reason: str) -> str:
    if "malformed" in reason:
        return " (the file is damaged; restore a backup)"
    return " (the disk is full or cannot be written)" if "disk I/O" in reason else ""


def _plain_reason(reason: str) -> str:
    if "malformed" in reason or "not a database" in reason:
        return f"The database file is damaged ({reason}). Nothing was stored; restore a backup."
    if "full" in reason or "disk I/O" in reason:
        return f"The disk has no room or cannot be written ({reason}). Nothing was stored."
    if "locked" in reason:
        return f"The database is busy with another long write ({reason}). Nothing was stored."
    return f"The database could not store this ({reason}). Nothing was stored."
