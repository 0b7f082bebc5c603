"""Every table. Present state is one row an object; its history is the `event` table.

Moments and days are text (see times.py), money is ten-thousandths in big integers, anything
with structure is canonical JSON text.
"""

from __future__ import annotations

from peewee import (
    SQL,
    AutoField,
    BigIntegerField,
    BlobField,
    BooleanField,
    IntegerField,
    Model,
    TextField,
)

from coretrack.records.database import database


def _later_text(start: str = "") -> TextField:
    """Return a text column that existing rows gained: they hold `start`."""
    return TextField(constraints=[SQL(f"DEFAULT '{start}'")])


def _later_number(start: int = 0) -> IntegerField:
    """Return a whole number column that existing rows gained: they hold `start`."""
    return IntegerField(constraints=[SQL(f"DEFAULT {start}")])


class BaseModel(Model):
    """What all tables share: the one database and names that do not depend on the class."""

    class Meta:
        database = database
        legacy_table_names = False
        only_save_dirty = True


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


class OnceRow(BaseModel):
    """Keys of forms, scans and import rows that were acted on, with the answer given."""

    key = TextField(primary_key=True)
    at = TextField()
    answer = TextField()

    class Meta:
        table_name = "once"


class CounterRow(BaseModel):
    """Running numbers that must not repeat and have no gaps: the serials of tags."""

    name = TextField(primary_key=True)
    value = BigIntegerField()

    class Meta:
        table_name = "counter"


class ObjectRow(BaseModel):
    """What every object's row carries beside its facts: its version and the head of its chain."""

    id = AutoField()
    version = IntegerField()
    head = TextField()


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
    hold_until = _later_text()
    credit_note = _later_text()
    place = _later_text()
    photos = _later_number()
    labels = _later_number()
    basket = _later_text()
    slot = _later_number()
    metal_tag = _later_number()
    rework_begun = _later_text()
    built_into = _later_text()

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
    waived = _later_number()
    forfeited = _later_number()
    slide_most = _later_text("100")
    nothing_after = _later_number()

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
    status = _later_text()
    counted = _later_number()
    arrived_on = _later_text()
    carrier = _later_text()
    reference = _later_text()
    note = _later_text()
    difference_by = _later_text()
    photos = _later_number()
    sorting = _later_text("[]")
    estimate = _later_text("{}")

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


class GaugeRow(ObjectRow):
    key = TextField(unique=True)
    name = TextField()
    kind = TextField()
    unit = TextField()
    resolution = TextField()
    uncertainty = TextField()
    due_on = TextField()
    checked_on = _later_text()
    interval_days = _later_number()
    out_of_use = BooleanField(constraints=[SQL("DEFAULT FALSE")])
    note = _later_text()

    class Meta:
        table_name = "gauge"


class PersonRow(ObjectRow):
    key = TextField(unique=True)
    name = TextField()
    role = TextField()
    password_hash = TextField()
    badge = _later_number()
    pin_hash = _later_text()
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
    hold_days = _later_number(10)
    idle_minutes = _later_number(10)
    paper_size = _later_text("a4")
    label_stock = _later_text("roll-50x25")
    sheet_stock = _later_text("a4-24")
    print_command = _later_text("[]")
    slide_most = _later_text("100")
    nothing_after = _later_number()
    second_look_percent = _later_text("0")

    class Meta:
        table_name = "shop"


class LabelStockRow(ObjectRow):
    key = TextField(unique=True)
    next_free = IntegerField()

    class Meta:
        table_name = "label_stock"


class ReasonRow(ObjectRow):
    key = TextField(unique=True)
    number = IntegerField(unique=True)
    family = TextField()
    fault = TextField()

    class Meta:
        table_name = "reason"


class PlaceRow(ObjectRow):
    key = TextField(unique=True)
    kind = TextField()
    number = IntegerField()
    name = TextField()

    class Meta:
        table_name = "place"


class CreditNoteRow(ObjectRow):
    key = TextField(unique=True)
    customer = TextField(index=True)
    day = TextField(index=True)
    tags = TextField()
    total = BigIntegerField()

    class Meta:
        table_name = "credit_note"


class ImportedFileRow(ObjectRow):
    key = TextField(unique=True)
    name = TextField()
    action = TextField()
    answer = TextField()

    class Meta:
        table_name = "imported_file"


class ReadingRow(BaseModel):
    """Each reading once more in a table of its own, for recalls and what-ifs; from the events."""

    id = AutoField()
    tag = TextField(index=True)
    inspection = IntegerField()
    check_code = TextField()
    place = IntegerField()
    typed = TextField()
    value = BigIntegerField(null=True)
    result = TextField()
    gauge = TextField()
    gauge_overdue = BooleanField()
    read_at = TextField()

    class Meta:
        table_name = "reading"
        indexes = ((("gauge", "read_at"), False),)


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


class WashRow(ObjectRow):
    key = TextField(unique=True)
    basket = TextField(index=True)
    status = TextField()
    slots = TextField()
    counted = IntegerField()
    note = TextField()

    class Meta:
        table_name = "wash"


class ProcessCheckRow(ObjectRow):
    key = TextField(unique=True)
    day = TextField(index=True)
    kind = TextField()
    place = TextField()
    measured = TextField()
    result = TextField()
    by = TextField()
    note = TextField()

    class Meta:
        table_name = "process_check"


class GaugeStudyRow(ObjectRow):
    key = TextField(unique=True)
    gauge = TextField(index=True)
    family = TextField()
    check_code = TextField()
    unit = TextField()
    status = TextField()
    design = TextField()
    readings = TextField()
    proposed = TextField()
    day = TextField()

    class Meta:
        table_name = "gauge_study"


class SecondLookRow(ObjectRow):
    key = TextField(unique=True)
    tag = TextField(index=True)
    family = TextField()
    why = TextField()
    status = TextField(index=True)
    first_grade = TextField()
    first_inspector = TextField()
    grade = TextField()
    inspector = TextField()
    findings = TextField()

    class Meta:
        table_name = "second_look"


class StockTakeRow(ObjectRow):
    key = TextField(unique=True)
    scope = TextField()
    status = TextField()
    expected = TextField()
    found = TextField()
    note = TextField()

    class Meta:
        table_name = "stock_take"


class PhotoRow(BaseModel):
    """Photos, beside the history: events name them by their hash.

    `object_kind` is core or lot, or draft while the core in hand has no tag yet.
    """

    id = AutoField()
    object_kind = TextField()
    object_key = TextField()
    sha256 = TextField()
    what = TextField()
    at = TextField()
    by = TextField()
    width = IntegerField()
    height = IntegerField()
    content = BlobField()

    class Meta:
        table_name = "photo"
        indexes = ((("object_kind", "object_key"), False),)


class DraftRow(BaseModel):
    """What somebody has begun and not finished: it is no history, and goes once it is stored."""

    key = TextField(primary_key=True)
    person = TextField()
    at = TextField()
    body = TextField()

    class Meta:
        table_name = "draft"


class SessionRow(BaseModel):
    """Who is signed in where; the cookie holds a token of which only the hash is kept."""

    token_hash = TextField(primary_key=True)
    person = TextField(index=True)
    station = TextField()
    started_at = TextField()
    seen_at = TextField()
    ends_at = TextField()
    by_badge = BooleanField()
    locked = BooleanField()

    class Meta:
        table_name = "web_session"


class SignInRow(BaseModel):
    """How often signing in failed in a row under one name or badge, and until when it is shut."""

    key = TextField(primary_key=True)
    failures = IntegerField()
    until = TextField()

    class Meta:
        table_name = "sign_in"


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
    GaugeStudyRow,
    SecondLookRow,
    StockTakeRow,
    PhotoRow,
    DraftRow,
    SessionRow,
    SignInRow,
)
