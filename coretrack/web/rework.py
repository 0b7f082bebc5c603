"""Rework: what waits for which operation, begun and finished by scan."""

from __future__ import annotations

from flask import Blueprint

pages = Blueprint("rework", __name__)
