"""What every form that writes has in common: who sent it, its own key, what was wrong with it."""

from __future__ import annotations

from flask import request

from coretrack.errors import CoretrackError
from coretrack.web.here import Doer, doer


class Sender(Doer):
    """Who acts, where and when, and the key that lets a form sent twice act once."""

    key: str


def sender() -> Sender:
    """Return who sent the form of this request: `action(…, **sender())`."""
    return Sender(**doer(), key=request.form.get("key", ""))


def problems_of(error: CoretrackError) -> dict[str, str]:
    """Return what is wrong per field; what belongs to no field stands under no name.

    Some actions say beside a field only what would be right; the whole message stands there then.
    """
    said = {
        name: text if text.endswith(".") else error.message for name, text in error.fields.items()
    }
    return said or {"": error.message}


def summed_up(error: CoretrackError) -> dict[str, str]:
    """Return what would be right per field, and the whole message under no name."""
    return {"": error.message, **error.fields}
