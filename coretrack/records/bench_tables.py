"""The tables of the bench: gauges, readings, washes, checks, studies, second looks, stock-takes."""

from __future__ import annotations

from peewee import SQL, AutoField, BigIntegerField, BooleanField, IntegerField, TextField

from coretrack.records.rows import BaseModel, ObjectRow, later_number, later_text


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


class GaugeRow(ObjectRow):
    key = TextField(unique=True)
    name = TextField()
    kind = TextField()
    unit = TextField()
    resolution = TextField()
    uncertainty = TextField()
    due_on = TextField()
    checked_on = later_text()
    interval_days = later_number()
    out_of_use = BooleanField(constraints=[SQL("DEFAULT FALSE")])
    note = later_text()

    class Meta:
        table_name = "gauge"


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


class ProcessRuleRow(ObjectRow):
    key = TextField(unique=True)
    methods = TextField()
    limits = TextField()
    source = TextField()

    class Meta:
        table_name = "process_rule"


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
