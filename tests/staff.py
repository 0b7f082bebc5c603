"""Three made-up people who sign in at the small shop."""

from __future__ import annotations

from datetime import datetime

from coretrack.actions import people
from coretrack.actions.people import PersonChange

OWNER, CLERK, INSPECTOR = "Edda Mallin", "Ilse Thornby", "Bela Quirke"
PASSWORDS = {
    OWNER: "copper kettle noon",
    CLERK: "grey heron landing",
    INSPECTOR: "seven blunt chisels",
}
PIN = "4711"


def add_staff(now: datetime) -> str:
    """Add owner, clerk and inspector; return the code of the clerk's badge, whose PIN is PIN."""
    told = {"by": OWNER, "now": now}
    people.add_owner(OWNER, PASSWORDS[OWNER], now=now)
    clerk = PersonChange(pin=PIN, new_badge=True)
    people.add_person(CLERK, "clerk", PASSWORDS[CLERK], more=clerk, **told)
    people.add_person(INSPECTOR, "inspector", PASSWORDS[INSPECTOR], **told)
    return badge_of(CLERK, now)


def badge_of(name: str, now: datetime) -> str:
    """Return the code on a person's badge."""
    return next(one.badge for one in people.all_people(now) if one.name == name)
