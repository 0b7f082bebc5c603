"""The owner's page of people: who signs in, their badge and PIN, letting them in again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import cards, people
from coretrack.actions.people import PersonChange, PersonSeen
from coretrack.errors import CoretrackError, InvalidInput, NotFound
from coretrack.figures.shop_files import ROLES
from coretrack.web.here import doer, now, only

pages = Blueprint("people", __name__)

ACTS = {
    "badge": PersonChange(new_badge=True),
    "away": PersonChange(active=False),
    "back": PersonChange(active=True),
}
"""What a button alone does to a person."""


@dataclass(frozen=True)
class PeoplePage:
    """people/home.html; `told` holds what was typed for somebody new, secrets left out."""

    title: str
    people: tuple[PersonSeen, ...]
    roles: tuple[str, ...]
    message: str = ""
    told: Mapping[str, str] = field(default_factory=dict)
    wrong: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class PersonPage:
    """people/person.html"""

    title: str
    person: PersonSeen
    roles: tuple[str, ...]
    message: str = ""
    wrong: Mapping[str, str] = field(default_factory=dict)


@pages.get("/")
@only("owner")
def home() -> ResponseReturnValue:
    """Everybody, and the form for somebody new."""
    return _home()


@pages.post("/add")
@only("owner")
def add() -> ResponseReturnValue:
    """Add a person."""
    form = request.form
    told = {name: form.get(name, "") for name in ("name", "role", "badge")}
    more = PersonChange(pin=form.get("pin", "").strip(), new_badge=bool(told["badge"]))
    try:
        done = people.add_person(
            told["name"],
            told["role"],
            form.get("password", ""),
            more=more,
            key=form.get("key", ""),
            **doer(),
        )
    except CoretrackError as error:
        return _home(error, told)
    flash(f"{told['name'].strip()}: {', '.join(done)}.")
    return redirect(url_for("people.home"), 303)


@pages.get("/person")
@only("owner")
def one() -> ResponseReturnValue:
    """One person, with everything that can be changed."""
    return _one(request.args.get("name", ""))


@pages.post("/person")
@only("owner")
def change() -> ResponseReturnValue:
    """Change a person: what was typed, or what one button does."""
    form = request.form
    name, act = form.get("name", ""), form.get("act", "")
    key = form.get("key", "")
    typed = PersonChange(
        role=form.get("role", ""),
        password=form.get("password", ""),
        pin=form.get("pin", "").strip(),
    )
    try:
        if act == "let in":
            done = ["let in again"] if people.let_in_again(name, key=key, **doer()) else []
        else:
            done = people.change_person(name, ACTS.get(act, typed), key=key, **doer())
    except NotFound:
        raise
    except CoretrackError as error:
        return _one(name, error)
    flash(f"{name}: {', '.join(done)}." if done else f"{name}: nothing was to be changed.")
    return redirect(url_for("people.one", name=name), 303)


@pages.get("/badge.pdf")
@only("owner")
def badge() -> Response:
    """One person's badge as a card to print."""
    printed = cards.badges([request.args.get("name", "")])
    response = Response(printed.content, mimetype="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="{printed.name}"'
    return response


def _home(
    error: CoretrackError | None = None, told: Mapping[str, str] | None = None
) -> tuple[str, int]:
    page = PeoplePage(
        title="People",
        people=people.all_people(now()),
        roles=ROLES,
        message=error.message if error else "",
        told=told or {},
        wrong=error.fields if error else {},
    )
    return render_template("people/home.html", page=page), error.status if error else 200


def _one(name: str, error: CoretrackError | None = None) -> tuple[str, int]:
    found = next((each for each in people.all_people(now()) if each.name == name), None)
    if found is None:
        raise NotFound("There is nobody with this name; go back to the list of people.")
    page = PersonPage(
        title=found.name,
        person=found,
        roles=ROLES,
        message=error.message if error else "",
        wrong=error.fields if isinstance(error, InvalidInput) else {},
    )
    return render_template("people/person.html", page=page), error.status if error else 200
