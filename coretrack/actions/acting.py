"""One form or scan, one act: sent twice it acts once, and a lost race is run again."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from typing import Any

from coretrack.errors import Conflict
from coretrack.figures.history import canonical
from coretrack.records.writer import Writer, writing

Act = Callable[[Writer], dict[str, Any]]
"""What an action does in its transaction; its answer in plain JSON values."""

_TRIES = 3


class Changed(Conflict):
    """What a person saw is no longer so; running it again by itself would not help."""


def act_once(
    what: str, key: str, act: Act, *, by: str, station: str, now: datetime
) -> dict[str, Any]:
    """Run `act` in one transaction and return its answer; with a `key` used before, that answer.

    Whoever works at the dock holds the tags first, so that two clerks follow one another. Another
    writer (the bench, the office) may still come between: then nothing was stored, and it is run
    again. An empty key is never remembered.
    """
    for _ in range(_TRIES - 1):
        try:
            return _once(what, key, act, by, station, now)
        except Changed:
            raise
        except Conflict:
            continue
    return _once(what, key, act, by, station, now)


def _once(what: str, key: str, act: Act, by: str, station: str, now: datetime) -> dict[str, Any]:
    name = f"{what}:{key}"
    with writing(by, now, station) as writer:
        writer.next_number("tags", 0)
        if key and (told := writer.answers([name]).get(name)):
            answer: dict[str, Any] = json.loads(told)
            return answer
        answer = act(writer)
        if key:
            writer.remember(name, canonical(answer))
        return answer
