"""Wash baskets: what lies in which slot, the traveller card, metal tags."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import metal_tags, washes
from coretrack.actions.metal_tags import POOL, TagPool
from coretrack.actions.wash_views import WashesView, WashView, wash_card, wash_view, washes_view
from coretrack.actions.washes import Tipping
from coretrack.errors import Conflict, CoretrackError, InvalidInput, NotAllowed
from coretrack.figures.plain_words import counted, have
from coretrack.figures.scan_replies import Spot
from coretrack.figures.tags import show_tag
from coretrack.web.files import file_answer
from coretrack.web.here import doer, only, person
from coretrack.web.panel import Panel
from coretrack.web.paper_trail import labels_for

pages = Blueprint("washes", __name__)

FAMILY = "family:"
"""What the field of a family's count is called, before its code."""


@dataclass(frozen=True)
class WashesPage:
    """bench/washes.html: all baskets."""

    view: WashesView
    title: str = "Wash baskets"


@dataclass(frozen=True)
class WashPage:
    """bench/wash.html: one basket; `failed` names the form that came back, `typed` what it held."""

    title: str
    view: WashView
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
    known: frozenset[str] = frozenset()
    failed: str = ""
    message: str = ""

    @property
    def stage(self) -> str:
        """What happens at the basket now, as the heading of its work."""
        view = self.view
        if not view.under_way:
            return view.status_shown.words.capitalize()
        if view.counting:
            return "Count it in" if view.status == "loading" else "Count it out"
        return "Next core" if view.status == "loading" else "In the wash"

    @property
    def panel(self) -> Panel:
        """What the panel says while nothing was just scanned: what a scan or a number means."""
        view = self.view
        held = f"{counted(len(view.slots), 'core')} in {view.name}."
        if not view.under_way:
            line = f"{view.name}, wash {view.code}. Scan a basket's card to begin another."
            return Panel("note", view.status_shown.words.upper(), line, rest=True)
        if view.counting:
            what = "that are in" if view.status == "loading" else "that come out of"
            return Panel("ask", "COUNT", f"Count the cores {what} {view.name}; type how many.")
        if view.status == "loading":
            line = f"{held} Scan the next core; a number sets its slot; 'done' asks for the count."
            return Panel("note", f"SLOT {view.next_slot} NEXT", line)
        line = f"{held} Its card goes with it. Out of the wash, 'done' or Enter asks for the count."
        return Panel("note", "IN THE WASH", line)


@dataclass(frozen=True)
class TagsPage:
    """bench/metal_tags.html: the pool; `typed` and `problems` are those of the form `failed`."""

    pool: TagPool
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
    failed: str = ""
    message: str = ""
    title: str = "Metal tags"


@pages.get("/")
@only("inspector")
def home() -> str:
    """All baskets: scan one to begin or open its wash."""
    return render_template("bench/washes.html", page=WashesPage(washes_view()), spot=Spot("wash"))


@pages.get("/wash")
@only("inspector")
def wash() -> ResponseReturnValue:
    """One basket's slot map; without a code all baskets, with "tags" the pool of metal tags."""
    code = request.args.get("code", "")
    if not code or code == POOL:
        return redirect(url_for("washes.tags" if code else "washes.home"), 303)
    return _wash(_page(code))


@pages.post("/begin")
@only("inspector")
def begin() -> ResponseReturnValue:
    """Begin a wash in a basket of the list."""
    code = washes.begin_wash(request.form.get("basket", ""), key=_key(), **doer())
    return _to(code)


@pages.post("/load")
@only("inspector")
def load() -> ResponseReturnValue:
    """Count the basket into the wash."""

    def act(code: str) -> None:
        washes.load_wash(code, request.form.get("count", ""), key=_key(), **doer())

    return _act("load", act)


@pages.post("/finish")
@only("inspector")
def finish() -> ResponseReturnValue:
    """Count the cores out of the wash and label them again in slot order."""

    def act(code: str) -> None:
        tags = washes.finish_wash(code, request.form.get("count", ""), key=_key(), **doer())
        _labels(code, tags, f"{counted(len(tags), 'core')} out of the wash.")

    return _act("finish", act)


@pages.post("/tip")
@only("inspector")
def tip() -> ResponseReturnValue:
    """Note a tipped basket: families kept, sources lost, every core labelled again."""
    form = request.form
    counts = {
        name.removeprefix(FAMILY): text for name, text in form.items() if name.startswith(FAMILY)
    }
    told = Tipping(counts, form.getlist("known"), form.get("note", ""))

    def act(code: str) -> None:
        if form.get("sure") != "yes":
            raise InvalidInput(
                "Tick that the slots are mixed up: the sources are lost for good.",
                {"sure": "tick it"},
            )
        tags, lost = washes.tip_wash(code, told, key=_key(), **doer())
        said = f"{have(lost, 'core')} lost the source; the families keep all {len(tags)}."
        _labels(code, tags, said)

    return _act("tip", act)


@pages.post("/take-out")
@only("inspector")
def take_out() -> ResponseReturnValue:
    """Take one core out of the basket."""
    tag = request.form.get("tag", "")

    def act(code: str) -> None:
        slot = washes.take_out(code, tag, request.form.get("reason", ""), key=_key(), **doer())
        flash(f"Core {show_tag(tag)} is out of slot {slot}.")

    return _act("take out", act)


@pages.post("/give-up")
@only("inspector")
def give_up() -> ResponseReturnValue:
    """End a wash in which nothing lies."""

    def act(code: str) -> None:
        washes.give_up(code, key=_key(), **doer())
        flash("The basket is free again.")

    return _act("give up", act)


@pages.get("/card.pdf")
@only("inspector")
def card() -> Response:
    """The card that travels with the basket."""
    return file_answer(wash_card(request.args.get("code", ""), doer()["now"]))


@pages.get("/tags")
@only("inspector")
def tags() -> str:
    """The pool of metal tags."""
    return _tags(TagsPage(metal_tags.tag_pool(person().name)))


@pages.post("/tags/bind")
@only("inspector")
def bind() -> ResponseReturnValue:
    """Wire the tag whose number was read to a core."""
    form = request.form
    return _act_on_tag(
        "bind",
        lambda: metal_tags.bind_typed(
            form.get("tag", ""), form.get("number", ""), key=_key(), **doer()
        ),
    )


@pages.post("/tags/release")
@only("inspector")
def release() -> ResponseReturnValue:
    """Free a tag, or note that it was lost."""
    form = request.form
    return _act_on_tag(
        "release",
        lambda: metal_tags.release_typed(
            form.get("number", ""), form.get("reason", ""), key=_key(), **doer()
        ),
    )


@pages.get("/tags.pdf")
@only("inspector")
def tag_codes() -> ResponseReturnValue:
    """The sheet of codes for stamped tags, which carry no bars."""
    args = request.args
    try:
        return file_answer(metal_tags.tag_codes(args.get("first", ""), args.get("last", "")))
    except InvalidInput as error:
        page = _tags_again(args, error, "codes")
        return _tags(page), error.status


def part(code: str) -> tuple[str, Spot]:
    """Return the fresh inside of a wash page and its spot, for the answer to a scan there."""
    if code == POOL:
        page = TagsPage(metal_tags.tag_pool(person().name))
        return render_template("bench/_metal_tags.html", page=page), Spot("wash", POOL)
    if not code:
        return render_template("bench/_washes.html", page=WashesPage(washes_view())), Spot("wash")
    return render_template("bench/_wash.html", page=_page(code)), Spot("wash", code)


def _key() -> str:
    return request.form.get("key", "")


def _labels(code: str, wanted: Sequence[str], said: str) -> None:
    """Have the labels of a wash printed in slot order; a basket that tipped has no slots left."""
    tipped = wash_view(code, person().name).status == "tipped"
    back = url_for("washes.wash", code=code)
    labels = labels_for(wanted, _key(), wash="" if tipped else code, back=back)
    flash(f"{said} {labels.words}".strip(), "print:" + labels.address)


def _act(form: str, act: Callable[[str], None]) -> ResponseReturnValue:
    """Run an action on the wash of the address; show its page again with what was wrong."""
    code = request.args.get("code", "")
    try:
        act(code)
    except (InvalidInput, NotAllowed, Conflict) as error:
        shown = _page(code)
        page = WashPage(
            shown.title,
            shown.view,
            request.form.to_dict(),
            _problems(error),
            frozenset(request.form.getlist("known")) if form == "tip" else shown.known,
            form,
            error.message,
        )
        return _wash(page), error.status
    return _to(code)


def _act_on_tag(form: str, act: Callable[[], str]) -> ResponseReturnValue:
    try:
        flash(act())
    except (InvalidInput, NotAllowed, Conflict) as error:
        page = _tags_again(request.form, error, form)
        return _tags(page), error.status
    return redirect(url_for("washes.tags"), 303)


def _tags_again(typed: Mapping[str, str], error: CoretrackError, form: str) -> TagsPage:
    pool = metal_tags.tag_pool(person().name)
    return TagsPage(
        pool, {name: typed[name] for name in typed}, _problems(error), form, error.message
    )


def _problems(error: CoretrackError) -> Mapping[str, str]:
    return error.fields or {"": error.message}


def _page(code: str) -> WashPage:
    view = wash_view(code, person().name)
    worn = frozenset(slot.tag for slot in view.slots if slot.metal_tag)
    return WashPage(f"{view.name}, wash {code}", view, known=worn)


def _wash(page: WashPage) -> str:
    return render_template("bench/wash.html", page=page, spot=Spot("wash", page.view.code))


def _tags(page: TagsPage) -> str:
    return render_template("bench/metal_tags.html", page=page, spot=Spot("wash", POOL))


def _to(code: str) -> ResponseReturnValue:
    return redirect(url_for("washes.wash", code=code), 303)
