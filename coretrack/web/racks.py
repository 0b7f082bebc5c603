"""Crack checks: by the rack with its exceptions, and one body with what was seen on it."""

from __future__ import annotations

from flask import Blueprint

pages = Blueprint("racks", __name__)
