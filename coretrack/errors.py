"""The error family that every layer shares: each one carries a message fit for a person."""

from __future__ import annotations

from collections.abc import Mapping


class CoretrackError(Exception):
    """Something a person can put right; `str()` is the message to show them.

    `fields` maps the name of a form field or file column to what is wrong with it.
    """

    status = 400

    def __init__(self, message: str, fields: Mapping[str, str] | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.fields = dict(fields or {})


class InvalidInput(CoretrackError):
    """What was typed, scanned or imported cannot be used; the message says what would be right."""

    status = 422


class NotFound(CoretrackError):
    """There is no such core, lot, line, family or file."""

    status = 404


class NotAllowed(CoretrackError):
    """The shop's rules forbid this step now (for example a second credit for one core)."""

    status = 422


class Conflict(CoretrackError):
    """Somebody else changed the same thing meanwhile; nothing was stored."""

    status = 409


class Forbidden(CoretrackError):
    """The person's role does not include this."""

    status = 403


class Unavailable(CoretrackError):
    """The database or disk cannot serve right now; nothing was stored."""

    status = 503
