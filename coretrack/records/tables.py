"""The tables of the history, of cores and of trade; MODELS names every table there is.

Present state is one row an object; its history is the `event` table. The bench's tables are in
bench_tables.py, the stations' in station_tables.py, what they share in rows.py.
"""

from __future__ import annotations

from peewee import SQL, AutoField, BigIntegerField, BooleanField, IntegerField, TextField

from coretrack.records.bench_tables import (
    GaugeRow,
    GaugeStudyRow,
    ProcessCheckRow,
    ProcessRuleRow,
    ReadingRow,
    SecondLookRow,
    StockTakeRow,
    WashRow,
)
from coretrack.records.rows import BaseModel, ObjectRow, later_number, later_text
from coretrack.records.station_tables import (
    CreditNoteRow,
    DraftRow,
    LabelStockRow,
    OnceRow,
    PhotoRow,
    PlaceRow,
    ReasonRow,
    SessionRow,
    SignInRow,
)


class EventRow(BaseModel):
    """Everything that ever happened; only ever inserted (triggers refuse the rest)."""

    id = AutoField()
    object_kind = TextField()
    object_key = TextField()
    sequence = IntegerField()
    event = TextField()
    at = TextField(index=True)
    by = TextField()
    body = TextField()
    previous_hash = TextField()
    hash = TextField()

    class Meta:
        table_name = "event"
        indexes = ((("object_kind", "object_key", "sequence"), True),)


class SealRow(BaseModel):
    """A digest over the heads of all chains as they stood after event `upto`."""

    id = AutoField()
    at = TextField()
    upto = BigIntegerField()
    objects = BigIntegerField()
    digest = TextField()

    class Meta:
        table_name = "seal"


class CounterRow(BaseModel):
    """Running numbers that must not repeat and have no gaps: the serials of tags."""

    name = TextField(primary_key=True)
    value = BigIntegerField()

    class Meta:
        table_name = "counter"


class CoreRow(ObjectRow):
    tag = TextField(unique=True)
    stream = TextField()
    lot = TextField(index=True)
    source = TextField()
    source_lost = BooleanField()
    line = TextField(index=True)
    family = TextField()
    core_group = TextField()
    number = TextField()
    serial = TextField(index=True)
    received_on = TextField()
    month = TextField()
    acceptance = TextField()
    faults = TextField()
    state = TextField()
    grade = TextField()
    first_grade = TextField()
    plan_version = IntegerField()
    inspector = TextField()
    inspections = IntegerField()
    reworks = IntegerField()
    operations = TextField()
    reasons = TextField()
    findings = TextField()
    done_since = TextField()
    removed = TextField()
    done = TextField()
    price = BigIntegerField()
    freight = BigIntegerField()
    credit = BigIntegerField()
    receive = BigIntegerField()
    wash = BigIntegerField()
    inspect = BigIntegerField()
    rework = BigIntegerField()
    reinspect = BigIntegerField()
    disposal = BigIntegerField()
    recovery = BigIntegerField()
    hold_until = later_text()
    credit_note = later_text()
    place = later_text()
    photos = later_number()
    labels = later_number()
    basket = later_text()
    slot = later_number()
    metal_tag = later_number()
    rework_begun = later_text()
    built_into = later_text()

    class Meta:
        table_name = "core"
        indexes = ((("family", "state"), False), (("state", "received_on"), False))


class LineRow(ObjectRow):
    key = TextField(unique=True)
    invoice = TextField(index=True)
    line = TextField()
    sold_on = TextField()
    customer = TextField()
    number = TextField()
    core_group = TextField()
    family = TextField()
    criteria_version = IntegerField()
    quantity = IntegerField()
    charge = BigIntegerField()
    mode = TextField()
    window_days = IntegerField()
    after = TextField()
    slide_percent = TextField()
    slide_days = IntegerField()
    credited = IntegerField()
    credited_money = BigIntegerField()
    refused = IntegerField()
    waived = later_number()
    forfeited = later_number()
    slide_most = later_text("100")
    nothing_after = later_number()

    class Meta:
        table_name = "line"
        indexes = ((("customer", "core_group", "sold_on"), False),)


class LotRow(ObjectRow):
    key = TextField(unique=True)
    kind = TextField()
    source = TextField()
    received_on = TextField()
    paper = TextField(index=True)
    basis = TextField()
    price = BigIntegerField()
    price_total = BigIntegerField()
    freight = BigIntegerField()
    mass_g = BigIntegerField()
    pieces = IntegerField()
    bid_yield = TextField()
    status = later_text()
    counted = later_number()
    arrived_on = later_text()
    carrier = later_text()
    reference = later_text()
    note = later_text()
    difference_by = later_text()
    photos = later_number()
    sorting = later_text("[]")
    estimate = later_text("{}")

    class Meta:
        table_name = "lot"


class FamilyRow(ObjectRow):
    key = TextField(unique=True)
    name = TextField()
    mass_g = BigIntegerField()
    metal = TextField()
    credit_when = TextField()
    standard_yield = TextField()
    plan_version = IntegerField()
    criteria_version = IntegerField()
    definition = TextField()

    class Meta:
        table_name = "family"


class PlanRow(ObjectRow):
    key = TextField(unique=True)
    family = TextField()
    number = IntegerField()
    definition = TextField()

    class Meta:
        table_name = "plan"


class CriteriaRow(ObjectRow):
    key = TextField(unique=True)
    family = TextField()
    number = IntegerField()
    faults = TextField()

    class Meta:
        table_name = "criteria"


class NumberRow(ObjectRow):
    key = TextField(unique=True)
    shown = TextField()
    kind = TextField()
    core_group = TextField(index=True)
    group_name = TextField()
    family = TextField()
    valid_from = TextField()
    superseded_by = TextField()

    class Meta:
        table_name = "number"


class SourceRow(ObjectRow):
    key = TextField(unique=True)
    name = TextField()
    kind = TextField()

    class Meta:
        table_name = "source"


class RateRow(ObjectRow):
    key = TextField(unique=True)
    item = TextField()
    valid_from = TextField()
    amount = TextField()

    class Meta:
        table_name = "rate"
        indexes = ((("item", "valid_from"), False),)


class CoreChargeRow(ObjectRow):
    key = TextField(unique=True)
    family = TextField()
    valid_from = TextField()
    amount = BigIntegerField()

    class Meta:
        table_name = "core_charge"
        indexes = ((("family", "valid_from"), False),)


class PersonRow(ObjectRow):
    key = TextField(unique=True)
    name = TextField()
    role = TextField()
    password_hash = TextField()
    badge = later_number()
    pin_hash = later_text()
    active = BooleanField(constraints=[SQL("DEFAULT TRUE")])

    class Meta:
        table_name = "person"


class ShopRow(ObjectRow):
    key = TextField(unique=True)
    name = TextField()
    currency = TextField()
    time_zone = TextField()
    site = IntegerField()
    window_days = IntegerField()
    after = TextField()
    slide_percent = TextField()
    slide_days = IntegerField()
    hold_days = later_number(10)
    idle_minutes = later_number(10)
    paper_size = later_text("a4")
    label_stock = later_text("roll-50x25")
    sheet_stock = later_text("a4-24")
    print_command = later_text("[]")
    slide_most = later_text("100")
    nothing_after = later_number()
    second_look_percent = later_text("0")

    class Meta:
        table_name = "shop"


class ImportedFileRow(ObjectRow):
    key = TextField(unique=True)
    name = TextField()
    action = TextField()
    answer = TextField()

    class Meta:
        table_name = "imported_file"


class TallyRow(BaseModel):
    """Roll-ups kept in the same transaction as the events that change them."""

    id = AutoField()
    family = TextField()
    grouping = TextField()
    value = TextField()
    month = TextField()
    received = BigIntegerField(default=0)
    decided = BigIntegerField(default=0)
    kept_first_pass = BigIntegerField(default=0)
    kept_after_rework = BigIntegerField(default=0)
    scrapped = BigIntegerField(default=0)
    sent_to_rework = BigIntegerField(default=0)
    refused = BigIntegerField(default=0)
    source_lost = BigIntegerField(default=0)
    price = BigIntegerField(default=0)
    freight = BigIntegerField(default=0)
    credit = BigIntegerField(default=0)
    receive = BigIntegerField(default=0)
    wash = BigIntegerField(default=0)
    inspect = BigIntegerField(default=0)
    rework = BigIntegerField(default=0)
    reinspect = BigIntegerField(default=0)
    disposal = BigIntegerField(default=0)
    recovery = BigIntegerField(default=0)

    class Meta:
        table_name = "tally"
        indexes = ((("grouping", "family", "value", "month"), True),)


MODELS: tuple[type[BaseModel], ...] = (
    EventRow,
    SealRow,
    OnceRow,
    CounterRow,
    CoreRow,
    LineRow,
    LotRow,
    FamilyRow,
    PlanRow,
    CriteriaRow,
    NumberRow,
    SourceRow,
    RateRow,
    CoreChargeRow,
    GaugeRow,
    PersonRow,
    ShopRow,
    ImportedFileRow,
    ReadingRow,
    TallyRow,
    LabelStockRow,
    ReasonRow,
    PlaceRow,
    CreditNoteRow,
    WashRow,
    ProcessCheckRow,
    ProcessRuleRow,
    GaugeStudyRow,
    SecondLookRow,
    StockTakeRow,
    PhotoRow,
    DraftRow,
    SessionRow,
    SignInRow,
)
