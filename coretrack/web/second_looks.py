"""Second looks: bodies looked at again by somebody who does not see the first verdict."""

from __future__ import annotations

from flask import Blueprint

pages = Blueprint("second_looks", __name__)
