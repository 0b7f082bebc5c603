"""Second looks: bodies looked at again by somebody who does not see the first verdict."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import look_views
from coretrack.actions.look_views import LooksView, look_view, looks_view
from coretrack.actions.second_looks import OWNER_SEES_ALL
from coretrack.errors import Conflict, CoretrackError, InvalidInput, NotAllowed
from coretrack.figures.agreement import GRADES, KAPPA
from coretrack.figures.intervals import WILSON
from coretrack.figures.scan_replies import Spot
from coretrack.figures.second_looks import AgreementRow
from coretrack.figures.tags import show_tag
from coretrack.web.bench_pages import InspectPage
from coretrack.web.forms import problems_of, sender
from coretrack.web.here import now, only, person
from coretrack.web.panel import Panel

pages = Blueprint("second_looks", __name__)

SPOT = "second"
READY = Panel("note", "READY", "Scan the tag of a body that is to be looked at again.", rest=True)


@dataclass(frozen=True)
class LooksPage:
    """bench/second.html: what is wanted; `typed` and `problems` are those of the form of `look`."""

    view: LooksView
    owner: bool
    title: str = "Second looks"
    look: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
    panel: Panel = READY


@dataclass(frozen=True)
class LookPage(InspectPage):
    """bench/second_look.html: one body as whoever looks again sees it."""

    second: bool = True


@dataclass(frozen=True)
class AgreementPage:
    """bench/second_agreement.html: how far two looks agree, all first, then each family."""

    rows: tuple[AgreementRow, ...]
    grades: tuple[str, ...] = GRADES
    share_method: str = WILSON
    kappa_method: str = KAPPA
    title: str = "Agreement of second looks"


@pages.get("/")
@only("inspector")
def home() -> str:
    """What is wanted of whom; a tag scanned here opens the body."""
    return _home(_list())


@pages.get("/look")
@only("inspector")
def look() -> ResponseReturnValue:
    """One body that is looked at again, from its first check on."""
    tag = request.args.get("tag", "")
    if person().role == "owner":
        flash(OWNER_SEES_ALL)
        return redirect(url_for("second_looks.home"), 303)
    try:
        page = _look(tag)
    except CoretrackError as error:
        flash(error.message)
        return redirect(url_for("second_looks.home"), 303)
    if page is None:
        if tag:
            flash(f"No blind second look is wanted on core {show_tag(tag)}.")
        return redirect(url_for("second_looks.home"), 303)
    return render_template("bench/second_look.html", page=page, spot=_spot(page))


@pages.get("/agreement")
@only()
def agreement() -> str:
    """Agreement, false rejects and misses of the finished blind looks."""
    return render_template(
        "bench/second_agreement.html", page=AgreementPage(look_views.agreement_view())
    )


@pages.post("/stands")
@only()
def stands() -> ResponseReturnValue:
    """The owner lets the first verdict stand though the second look differs."""
    return _answer(look_views.let_stand)


@pages.post("/give-up")
@only()
def give_up() -> ResponseReturnValue:
    """The owner drops a look that nobody will make."""
    return _answer(look_views.give_up)


def part(code: str) -> tuple[str, Spot]:
    """Return the fresh inside of a page of second looks and its spot, for the answer to a scan."""
    page = _look(code) if code and person().role != "owner" else None
    if page is None:
        return render_template("bench/_second.html", page=_list()), Spot(SPOT)
    return render_template("bench/_inspect.html", page=page), _spot(page)


def _answer(act: Callable[..., str]) -> ResponseReturnValue:
    """Run what the owner says of a look; show the list again with what was wrong."""
    form = request.form
    key = form.get("look", "")
    try:
        flash(act(key, form.get("reason", ""), **sender()))
    except (InvalidInput, NotAllowed, Conflict) as error:
        page = LooksPage(_view(), True, look=key, typed=form.to_dict(), problems=problems_of(error))
        return _home(page), error.status
    return redirect(url_for("second_looks.home"), 303)


def _view() -> LooksView:
    here = person()
    return looks_view(here.name, here.role, now())


def _list() -> LooksPage:
    return LooksPage(_view(), person().role == "owner")


def _home(page: LooksPage) -> str:
    return render_template("bench/second.html", page=page, spot=Spot(SPOT))


def _look(tag: str) -> LookPage | None:
    here = person()
    view = look_view(tag, here.name, here.station, now()) if tag else None
    return None if view is None else LookPage(f"Second look: {show_tag(view.tag)}", view)


def _spot(page: LookPage) -> Spot:
    return Spot(SPOT, page.view.tag, page.view.seen)
