"""What the templates of signing in are given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from coretrack.web.access import DemoPerson


@dataclass(frozen=True)
class SignInPage:
    """sign_in/sign_in.html; with `badge` set it asks for that badge's PIN."""

    title: str
    shop_name: str
    name: str
    badge: str
    station: str
    message: str
    wrong: Mapping[str, str]
    address: str
    carried: tuple[tuple[str, str], ...]
    demo_people: tuple[DemoPerson, ...]


@dataclass(frozen=True)
class LockPage:
    """sign_in/lock.html"""

    title: str
    name: str
    station: str
    badge: str
    message: str
    address: str
    carried: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class FirstOwnerPage:
    """sign_in/first_owner.html; `told` holds what was typed, passwords left out.

    `place`: "here" at the computer itself, "code" where the printed code is asked for, "away" where
    nothing helps but going there.
    """

    title: str
    place: str
    needs_shop: bool
    message: str
    zones: tuple[str, ...]
    told: Mapping[str, str] = field(default_factory=dict)
    wrong: Mapping[str, str] = field(default_factory=dict)
