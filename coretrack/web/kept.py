"""What was typed, carried over a lock, a sign-in or an aged form, and sent again by one button."""

from __future__ import annotations

from dataclasses import dataclass

from flask import render_template, request
from werkzeug.datastructures import MultiDict

from coretrack.web.access import own_address

PREFIX = "kept:"
_FILE_PREFIX = "kept-file:"
_ADDRESS = "kept-address"

_SECRET = frozenset({"password", "again", "pin", "secret"})
_UNSEEN = frozenset({"key", "seen"})
_MOST_SHOWN = 400


@dataclass(frozen=True)
class KeptField:
    """One value of a form: `label` and `shown` for a person, `shown` empty to be passed on only."""

    name: str
    value: str
    label: str
    shown: str


@dataclass(frozen=True)
class ToGive:
    """What a page cannot carry: a file has to be chosen again, a password typed again."""

    name: str
    label: str
    secret: bool


@dataclass(frozen=True)
class Kept:
    """A form that was sent and not acted on: where to, every field, and what is to be given again.

    `address` is empty when there is nothing to send.
    """

    address: str = ""
    fields: tuple[KeptField, ...] = ()
    to_give: tuple[ToGive, ...] = ()


@dataclass(frozen=True)
class StillYoursPage:
    """sign_in/still_yours.html"""

    title: str
    message: str
    kept: Kept


def from_request() -> Kept:
    """Return the form of the request at hand, which is a write that was not acted on."""
    files = [
        (name, file.filename) for name, file in request.files.items(multi=True) if file.filename
    ]
    return _kept(request.full_path.rstrip("?"), list(request.form.items(multi=True)), files)


def from_form(form: MultiDict[str, str]) -> Kept:
    """Return what an earlier page carried on in a form of its own."""
    pairs = list(form.items(multi=True))
    return _kept(
        own_address(form.get(_ADDRESS, "")),
        [(name.removeprefix(PREFIX), value) for name, value in pairs if name.startswith(PREFIX)],
        [
            (name.removeprefix(_FILE_PREFIX), v)
            for name, v in pairs
            if name.startswith(_FILE_PREFIX)
        ],
    )


def carried(kept: Kept) -> tuple[tuple[str, str], ...]:
    """Return the hidden inputs, name and value, that carry `kept` through another form."""
    if not kept.address:
        return ()
    return (
        (_ADDRESS, kept.address),
        *((PREFIX + field.name, field.value) for field in kept.fields),
        *((_FILE_PREFIX + one.name, one.label) for one in kept.to_give),
    )


def ask(kept: Kept, message: str, status: int = 200) -> tuple[str, int]:
    """Return the page that shows what was typed and sends it by one button."""
    page = StillYoursPage("Is this still yours?", message, kept)
    return render_template("sign_in/still_yours.html", page=page), status


def _kept(address: str, pairs: list[tuple[str, str]], files: list[tuple[str, str]]) -> Kept:
    fields = []
    to_give = [ToGive(name, file, name in _SECRET) for name, file in files]
    for name, value in pairs:
        if name in _SECRET and value:
            to_give.append(ToGive(name, _label(name), True))
        elif name != "csrf_token" and name not in _SECRET:
            shown = "" if name in _UNSEEN else value[:_MOST_SHOWN]
            fields.append(KeptField(name, value, _label(name), shown))
    return Kept(address, tuple(fields), tuple(to_give)) if address else Kept()


def _label(name: str) -> str:
    return name.replace("_", " ").replace("-", " ")
