"""Figures as plain JSON values: money as decimal strings, rates as numbers, unknown as null."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from coretrack.figures.charge import ChargeAdvice
from coretrack.figures.costing import CostParts, CostRow
from coretrack.figures.money import plain
from coretrack.figures.yields import YieldRow


def yield_answer(row: YieldRow) -> dict[str, Any]:
    """Return one row of `coretrack yield --json`."""
    counts = row.counts
    return {
        "group": row.group,
        "kind": row.kind,
        "received": counts.received,
        "decided": counts.decided,
        "open": counts.open,
        "kept_first_pass": counts.kept_first_pass,
        "kept_after_rework": counts.kept_after_rework,
        "scrapped": counts.scrapped,
        "sent_to_rework": counts.sent_to_rework,
        "refused": counts.refused,
        "source_lost": counts.source_lost,
        "first_pass_yield": row.first_pass_yield,
        "yield": row.body_yield,
        "low": row.interval.low,
        "high": row.interval.high,
        "level": row.interval.level,
        "method": row.interval.method,
        "dispersion_p": row.dispersion_p,
        "warnings": list(row.warnings),
        "why": row.why or row.interval.why,
    }


def cost_answer(row: CostRow) -> dict[str, Any]:
    """Return one row of `coretrack cost --json`: the yield's row and the money.

    Money counts with decided cores: while there is none, what was spent is not known.
    """
    known = row.yields.counts.decided > 0
    bounds = [None if b is None else plain(round(b)) for b in (row.interval.low, row.interval.high)]
    return {
        **yield_answer(row.yields),
        "spent": {
            f.name: plain(getattr(row.parts, f.name)) if known else None for f in fields(CostParts)
        },
        "net_cost": plain(row.parts.net) if known else None,
        "cost_per_core": plain(row.cost_per_core),
        "cost_per_good_body": plain(row.cost_per_good_body),
        "cost_low": bounds[0],
        "cost_high": bounds[1],
        "cost_method": row.method,
        "scrap_share": plain(row.scrap_share),
        "normal_scrap": plain(row.normal_scrap),
        "abnormal_scrap": plain(row.abnormal_scrap),
        "waterfall": [
            {"step": step.name, "amount": plain(step.amount), "of": step.of}
            for step in row.waterfall
        ],
        "warnings": list(row.warnings),
        "why": row.why or row.interval.why,
    }


def charge_answer(advice: ChargeAdvice) -> dict[str, Any]:
    """Return what `coretrack charge --json` says about one family."""
    money = {
        f.name: plain(getattr(advice, f.name)) for f in fields(advice) if f.name in _CHARGE_MONEY
    }
    return {
        "family": advice.family,
        "name": advice.family_name,
        "received": advice.received,
        "decided": advice.decided,
        "good": advice.good,
        "yield": advice.body_yield,
        "low": advice.yield_low,
        "high": advice.yield_high,
        "good_body": plain(advice.good_body.amount) if advice.good_body else None,
        "good_body_origin": advice.good_body.origin if advice.good_body else None,
        "good_body_detail": advice.good_body.detail if advice.good_body else None,
        **money,
        "charge_since": advice.charge_since.isoformat() if advice.charge_since else None,
        "warnings": list(advice.warnings),
        "why": advice.why,
    }


_CHARGE_MONEY = frozenset(
    {
        "processing",
        "scrap_recovery",
        "sourcing",
        "value",
        "value_low",
        "value_high",
        "make_whole",
        "make_whole_low",
        "make_whole_high",
        "floor",
        "broker_price",
        "ceiling",
        "new_body_price",
        "charge_today",
        "cost_per_good_body",
        "cost_low",
        "cost_high",
    }
)
