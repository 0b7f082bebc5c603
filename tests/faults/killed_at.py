"""Runs `coretrack` and kills it, as kill -9 does, just before a statement to the database.

usage: python killed_at.py STATEMENT WORD ...      STATEMENT is how it begins, or "COMMIT".
"""

from __future__ import annotations

import os
import signal
import sys
from typing import Any

import peewee


def main() -> None:
    """Watch the statements of this process while it does what it was told."""
    start = sys.argv[1]
    watch("execute_sql", start)
    watch("commit", start)
    from coretrack.cli.main import main as coretrack

    coretrack(sys.argv[2:])


def watch(name: str, start: str) -> None:
    """End the process when a database's method is about to run the statement that was named."""
    method = getattr(peewee.Database, name)

    def watched(database: Any, statement: str = "COMMIT", *rest: Any, **named: Any) -> Any:
        if statement.strip().startswith(start):
            os.kill(os.getpid(), signal.SIGKILL)
        if name == "commit":
            return method(database)
        return method(database, statement, *rest, **named)

    setattr(peewee.Database, name, watched)


if __name__ == "__main__":
    main()
