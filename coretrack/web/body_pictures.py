"""Pictures of the families' bodies, on which the bench marks cracks; the owner takes them in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import body_pictures
from coretrack.actions.body_pictures import FamilyPicture, pictures_view
from coretrack.errors import InvalidInput
from coretrack.web.forms import sender, summed_up
from coretrack.web.here import only

pages = Blueprint("body_pictures", __name__)


@dataclass(frozen=True)
class PicturesPage:
    """plans/pictures.html; `failed` is the family whose picture was not taken."""

    families: tuple[FamilyPicture, ...]
    failed: str = ""
    problems: Mapping[str, str] = field(default_factory=dict)
    title: str = "Pictures of bodies"


@pages.get("/")
@only()
def home() -> str:
    """Every family and the picture of its body."""
    return render_template("plans/pictures.html", page=PicturesPage(pictures_view()))


@pages.post("/add")
@only()
def add() -> ResponseReturnValue:
    """Take in a picture of a family's body."""
    family = request.form.get("family", "")
    file = request.files.get("photo")
    try:
        if file is None or not file.filename:
            raise InvalidInput("No picture was chosen.", {"photo": "choose a picture file"})
        body_pictures.add_picture(file.read(), family, **sender())
    except InvalidInput as error:
        page = PicturesPage(pictures_view(), family, summed_up(error))
        return render_template("plans/pictures.html", page=page), error.status
    flash(f"Cracks of family {family} are marked on this picture from now on.")
    return redirect(url_for("body_pictures.home"), 303)
