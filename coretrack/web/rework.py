"""Rework: what waits for which operation, begun and finished by scan or by the page's forms."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import rework_forms
from coretrack.actions.rework_forms import FinishTyped
from coretrack.actions.rework_views import ReworkHome, ReworkView, rework_home, rework_view
from coretrack.errors import Conflict, CoretrackError, InvalidInput, NotAllowed
from coretrack.figures.scan_replies import Spot
from coretrack.figures.tags import show_tag
from coretrack.web.forms import problems_of, sender
from coretrack.web.here import now, only, person
from coretrack.web.panel import Panel

pages = Blueprint("rework", __name__)

SPOT = "rework"
READY = Panel("note", "READY", "Scan the tag of a body that waits for rework.", rest=True)


@dataclass(frozen=True)
class ReworkHomePage:
    """bench/rework.html: the queue of each operation; `money` says that its money is shown."""

    home: ReworkHome
    money: bool
    title: str = "Rework"
    panel: Panel = READY


@dataclass(frozen=True)
class ReworkPage:
    """bench/rework_body.html: one body; `typed` and `problems` are those of the finish form."""

    title: str
    view: ReworkView
    money: bool
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
    message: str = ""

    @property
    def panel(self) -> Panel:
        """What the panel says while nothing was just scanned: what the body waits for."""
        if self.message:
            return Panel("stop", "NOT STORED", self.message)
        return Panel("note", *_waits_for(self.view))


@pages.get("/")
@only("inspector")
def home() -> ResponseReturnValue:
    """The queues; with a tag the body that carries it."""
    tag = request.args.get("tag", "")
    if not tag:
        return render_template("bench/rework.html", page=_home(), spot=Spot(SPOT))
    try:
        page = _page(tag)
    except NotAllowed as error:
        flash(error.message)
        return redirect(url_for("cores.core", tag=tag), 303)
    return _body(page)


@pages.post("/begin")
@only("inspector")
def begin() -> ResponseReturnValue:
    """Begin an operation."""
    form = request.form
    return _act(lambda tag: rework_forms.begin_typed(tag, form.get("operation", ""), **sender()))


@pages.post("/finish")
@only("inspector")
def finish() -> ResponseReturnValue:
    """Finish an operation with the minutes and the stock that were typed."""
    form = request.form
    told = FinishTyped(
        form.get("operation", ""),
        form.get("minutes", ""),
        form.get("stock", ""),
        form.get("note", ""),
        form.get("sure") == "yes",
    )
    return _act(lambda tag: rework_forms.finish_typed(tag, told, **sender()))


def part(code: str) -> tuple[str, Spot]:
    """Return the fresh inside of a rework page and its spot, for the answer to a scan there."""
    if not code:
        return render_template("bench/_rework.html", page=_home()), Spot(SPOT)
    page = _page(code)
    return render_template("bench/_rework_body.html", page=page), _spot(page)


def _act(act: Callable[[str], str]) -> ResponseReturnValue:
    """Run an action on the body of the form; show its page again with what was wrong."""
    tag = request.form.get("tag", "")
    try:
        flash(act(tag))
    except (InvalidInput, NotAllowed, Conflict) as error:
        return _body(_page(tag, error)), error.status
    return redirect(url_for("rework.home", tag=tag), 303)


def _home() -> ReworkHomePage:
    return ReworkHomePage(rework_home(now()), person().role == "owner")


def _page(tag: str, error: CoretrackError | None = None) -> ReworkPage:
    here = person()
    view = rework_view(tag, here.name, here.station, now())
    title, money = f"Rework: {show_tag(view.tag)}", here.role == "owner"
    if error is None:
        return ReworkPage(title, view, money)
    typed = request.form.to_dict()
    return ReworkPage(title, view, money, typed, problems_of(error), error.message)


def _waits_for(view: ReworkView) -> tuple[str, str]:
    if view.chosen is None:
        what = "Choose the operation that is done now." if view.waits else "Scan the next body."
        return ("WHICH?" if view.waits else "READY"), what
    if view.chosen.begun:
        return "BEGUN", f"Enter, or its tag once more, finishes: {view.chosen.name}."
    return "NEXT", f"Enter begins: {view.chosen.name}."


def _body(page: ReworkPage) -> str:
    return render_template("bench/rework_body.html", page=page, spot=_spot(page))


def _spot(page: ReworkPage) -> Spot:
    return Spot(SPOT, page.view.tag, page.view.seen)
