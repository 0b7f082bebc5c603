"""The day's checks of lamps and baths for crack checks, and the limits the shop states for them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import process_checks
from coretrack.actions.process_checks import ProcessView, process_view
from coretrack.errors import InvalidInput
from coretrack.figures.process_rules import REALLY, Quantity, with_unit
from coretrack.web.forms import sender, summed_up
from coretrack.web.here import now, only, person
from coretrack.web.panel import say

pages = Blueprint("process_checks", __name__)


@dataclass(frozen=True)
class ProcessPage:
    """bench/process.html; `typed` and `problems` are those of the form `failed`.

    `failed` is "check KIND", "rule KIND" or "place"; `ticked` are the methods ticked in a rule.
    """

    view: ProcessView
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
    failed: str = ""
    ticked: tuple[str, ...] = ()
    title: str = "Lamp and bath checks"

    def really(self, quantity: Quantity) -> str:
        """Return the reading that was asked back and may be right all the same, with its unit."""
        if not self.problems.get(quantity.code, "").startswith(REALLY):
            return ""
        return with_unit(quantity, self.typed)


@pages.get("/")
@only("inspector")
def home() -> str:
    """The day's checks, and what is asked of them."""
    return render_template("bench/process.html", page=ProcessPage(_view()))


@pages.post("/check")
@only("inspector")
def check() -> ResponseReturnValue:
    """Keep one check of the day."""
    kind = request.form.get("kind", "")

    def act() -> None:
        said = process_checks.record_check(kind, request.form.to_dict(), **sender())
        good = said.endswith(": good.")
        say("good" if good else "stop", "GOOD" if good else "NOT GOOD", said)

    return _act(f"check {kind}", act)


@pages.post("/rule")
@only()
def rule() -> ResponseReturnValue:
    """The owner states limits, methods and source of one kind of check."""
    form, kind = request.form, request.form.get("kind", "")

    def act() -> None:
        methods = form.getlist("method")
        told = process_checks.set_rule(
            kind, form.to_dict(), methods, role=person().role, **sender()
        )
        say("good", "STATED", told)

    return _act(f"rule {kind}", act)


@pages.post("/place")
@only("inspector")
def place() -> ResponseReturnValue:
    """Say where this station's crack checks are made."""

    def act() -> None:
        name = process_checks.set_place(request.form.get("here", ""), **sender())
        where = f"at {name}" if name else "anywhere: the checks of every place count"
        say("note", "HERE", f"Crack checks of this station are made {where}.")

    return _act("place", act)


def _view() -> ProcessView:
    return process_view(person().station, now())


def _act(form: str, act: Callable[[], None]) -> ResponseReturnValue:
    try:
        act()
    except InvalidInput as error:
        page = ProcessPage(
            _view(),
            request.form.to_dict(),
            summed_up(error),
            form,
            tuple(request.form.getlist("method")),
        )
        return render_template("bench/process.html", page=page), error.status
    return redirect(url_for("process_checks.home"), 303)
