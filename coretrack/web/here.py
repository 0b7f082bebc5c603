"""Who sits at the page now: asked by every view, set by the sign-in hook before it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import wraps
from typing import Any, TypedDict, TypeVar

from flask import g

from coretrack import clock
from coretrack.errors import Forbidden

View = TypeVar("View", bound=Callable[..., Any])

ROLES = ("clerk", "inspector", "owner")


@dataclass(frozen=True)
class SignedIn:
    """A person at a station, as the pages know them."""

    name: str
    role: str
    station: str = ""
    session: str = ""

    def may(self, *roles: str) -> bool:
        """Return whether this person's role is one of these; an owner may do everything."""
        return self.role == "owner" or self.role in roles


def person() -> SignedIn:
    """Return who is signed in; Forbidden when nobody is (the hook sends them to sign in first)."""
    here: SignedIn | None = g.get("signed_in")
    if here is None:
        raise Forbidden("Nobody is signed in here; sign in first.")
    return here


class Doer(TypedDict):
    """Who acts, where and when, by the names that every action has for it."""

    by: str
    station: str
    now: datetime


def doer() -> Doer:
    """Return who acts at this request: `action(…, **doer())`."""
    here = person()
    return Doer(by=here.name, station=here.station, now=now())


def someone() -> SignedIn | None:
    """Return who is signed in, or None."""
    here: SignedIn | None = g.get("signed_in")
    return here


def now() -> datetime:
    """Return the moment of this request."""
    return clock.now()


def only(*roles: str) -> Callable[[View], View]:
    """Let only people of these roles see a page; an owner may see all, and alone those of none."""

    def wrap(view: View) -> View:
        @wraps(view)
        def guarded(*args: Any, **named: Any) -> Any:
            here = person()
            if not here.may(*roles):
                raise Forbidden(
                    f"This page is for the {' and the '.join(roles or ('owner',))}; "
                    f"{here.name} is signed in as {here.role}."
                )
            return view(*args, **named)

        guarded.__dict__["only"] = roles
        return guarded  # type: ignore[return-value]

    return wrap
