"""The owner's pages: the shop on one screen, and the same figures as JSON, PDF and workbook."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from flask import Blueprint, Response, render_template

from coretrack.actions.answers import charge_answer, cost_answer, yield_answer
from coretrack.errors import NotFound
from coretrack.figures.money import plain
from coretrack.figures.plain_words import plural
from coretrack.figures.summary import ShopSummary
from coretrack.web.here import only
from coretrack.web.pages import shop_page

PDF = "application/pdf"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def blueprint(
    summary: Callable[[], ShopSummary],
    charge_sheet: Callable[[ShopSummary], bytes],
    workbook: Callable[[ShopSummary], bytes] | None,
) -> Blueprint:
    """Return the owner's pages on these figures and papers."""
    pages = Blueprint("office", __name__)

    @pages.get("/")
    @only("owner")
    def shop() -> str:
        return render_template("office/shop.html", page=shop_page(summary(), workbook is not None))

    @pages.get("/figures.json")
    @only("owner")
    def figures() -> Response:
        text = json.dumps(shop_answer(summary()), ensure_ascii=False, allow_nan=False, indent=2)
        return Response(text + "\n", mimetype="application/json")

    @pages.get("/charge-sheet.pdf")
    @only("owner")
    def sheet() -> Response:
        return _file(charge_sheet(summary()), PDF, "charge-sheet.pdf", "inline")

    @pages.get("/figures.xlsx")
    @only("owner")
    def book() -> Response:
        if workbook is None:
            raise NotFound("There is no workbook here; the same figures are in figures.json.")
        return _file(workbook(summary()), XLSX, "figures.xlsx", "attachment")

    return pages


def _file(content: bytes, kind: str, name: str, how: str) -> Response:
    response = Response(content, mimetype=kind)
    response.headers["Content-Disposition"] = f'{how}; filename="{name}"'
    return response


def shop_answer(summary: ShopSummary) -> dict[str, Any]:
    """Return every figure of the page as plain JSON values.

    Money is a decimal string, a rate a number 0..1, what is unknown `null` with a `why` beside it.
    """
    return {
        "shop": summary.shop_name,
        "currency": summary.currency,
        "made_at": summary.made_at.isoformat(),
        "cores": {
            "received": summary.received,
            "keep": summary.kept,
            "in_rework": summary.in_rework,
            "scrap": summary.scrapped,
            "undecided": summary.undecided,
            "waiting": summary.waiting,
            "unknown": summary.unknown,
            "refused": summary.refused,
            "excess": summary.excess,
            "comebacks": summary.comebacks,
            "no_longer_here": summary.left,
        },
        "credits_paid": plain(summary.credits_paid),
        "open_core_lines": {
            "count": summary.open_lines,
            "money": plain(summary.open_line_money),
        },
        "yields": [yield_answer(row) for row in summary.yields],
        "costs": [cost_answer(row) for row in summary.costs],
        "charges": [charge_answer(advice) for advice in summary.charges],
        "by_source": [cost_answer(row) for row in summary.by_source],
        "by_lot": [cost_answer(row) for row in summary.by_lot],
        "attention": [
            {
                "headline": item.headline,
                "count": item.count,
                "counts": plural(item.noun),
                "advice": item.advice,
            }
            for item in summary.attention
        ],
    }
