"""The first schema: events, present state of every object, readings, tallies."""

from peewee import AutoField, BigIntegerField, BooleanField, IntegerField, Model, TextField

# Each column: its name, its kind, then "unique", "index", "key", "null" or "zero" (default 0).
TABLES = {
    "event": (
        "id auto",
        "object_kind text",
        "object_key text",
        "sequence integer",
        "event text",
        "at text index",
        "by text",
        "body text",
        "previous_hash text",
        "hash text",
    ),
    "seal": (
        "id auto",
        "at text",
        "upto big",
        "objects big",
        "digest text",
    ),
    "once": (
        "key text key",
        "at text",
        "answer text",
    ),
    "counter": (
        "name text key",
        "value big",
    ),
    "core": (
        "id auto",
        "version integer",
        "head text",
        "tag text unique",
        "stream text",
        "lot text index",
        "source text",
        "source_lost yes_no",
        "line text index",
        "family text",
        "core_group text",
        "number text",
        "serial text index",
        "received_on text",
        "month text",
        "acceptance text",
        "faults text",
        "state text",
        "grade text",
        "first_grade text",
        "plan_version integer",
        "inspector text",
        "inspections integer",
        "reworks integer",
        "operations text",
        "reasons text",
        "findings text",
        "done_since text",
        "removed text",
        "done text",
        "price big",
        "freight big",
        "credit big",
        "receive big",
        "wash big",
        "inspect big",
        "rework big",
        "reinspect big",
        "disposal big",
        "recovery big",
    ),
    "line": (
        "id auto",
        "version integer",
        "head text",
        "key text unique",
        "invoice text index",
        "line text",
        "sold_on text",
        "customer text",
        "number text",
        "core_group text",
        "family text",
        "criteria_version integer",
        "quantity integer",
        "charge big",
        "mode text",
        "window_days integer",
        "after text",
        "slide_percent text",
        "slide_days integer",
        "credited integer",
        "credited_money big",
        "refused integer",
    ),
    "lot": (
        "id auto",
        "version integer",
        "head text",
        "key text unique",
        "kind text",
        "source text",
        "received_on text",
        "paper text index",
        "basis text",
        "price big",
        "price_total big",
        "freight big",
        "mass_g big",
        "pieces integer",
        "bid_yield text",
    ),
    "family": (
        "id auto",
        "version integer",
        "head text",
        "key text unique",
        "name text",
        "mass_g big",
        "metal text",
        "credit_when text",
        "standard_yield text",
        "plan_version integer",
        "criteria_version integer",
        "definition text",
    ),
    "plan": (
        "id auto",
        "version integer",
        "head text",
        "key text unique",
        "family text",
        "number integer",
        "definition text",
    ),
    "criteria": (
        "id auto",
        "version integer",
        "head text",
        "key text unique",
        "family text",
        "number integer",
        "faults text",
    ),
    "number": (
        "id auto",
        "version integer",
        "head text",
        "key text unique",
        "shown text",
        "kind text",
        "core_group text index",
        "group_name text",
        "family text",
        "valid_from text",
        "superseded_by text",
    ),
    "source": (
        "id auto",
        "version integer",
        "head text",
        "key text unique",
        "name text",
        "kind text",
    ),
    "rate": (
        "id auto",
        "version integer",
        "head text",
        "key text unique",
        "item text",
        "valid_from text",
        "amount text",
    ),
    "core_charge": (
        "id auto",
        "version integer",
        "head text",
        "key text unique",
        "family text",
        "valid_from text",
        "amount big",
    ),
    "gauge": (
        "id auto",
        "version integer",
        "head text",
        "key text unique",
        "name text",
        "kind text",
        "unit text",
        "resolution text",
        "uncertainty text",
        "due_on text",
    ),
    "person": (
        "id auto",
        "version integer",
        "head text",
        "key text unique",
        "name text",
        "role text",
        "password_hash text",
    ),
    "shop": (
        "id auto",
        "version integer",
        "head text",
        "key text unique",
        "name text",
        "currency text",
        "time_zone text",
        "site integer",
        "window_days integer",
        "after text",
        "slide_percent text",
        "slide_days integer",
    ),
    "imported_file": (
        "id auto",
        "version integer",
        "head text",
        "key text unique",
        "name text",
        "action text",
        "answer text",
    ),
    "reading": (
        "id auto",
        "tag text index",
        "inspection integer",
        "check_code text",
        "place integer",
        "typed text",
        "value big null",
        "result text",
        "gauge text",
        "gauge_overdue yes_no",
        "read_at text",
    ),
    "tally": (
        "id auto",
        "family text",
        "grouping text",
        "value text",
        "month text",
        "received big zero",
        "decided big zero",
        "kept_first_pass big zero",
        "kept_after_rework big zero",
        "scrapped big zero",
        "sent_to_rework big zero",
        "refused big zero",
        "source_lost big zero",
        "price big zero",
        "freight big zero",
        "credit big zero",
        "receive big zero",
        "wash big zero",
        "inspect big zero",
        "rework big zero",
        "reinspect big zero",
        "disposal big zero",
        "recovery big zero",
    ),
}

INDEXES = {
    "event": ((("object_kind", "object_key", "sequence"), True),),
    "core": ((("family", "state"), False), (("state", "received_on"), False)),
    "line": ((("customer", "core_group", "sold_on"), False),),
    "rate": ((("item", "valid_from"), False),),
    "core_charge": ((("family", "valid_from"), False),),
    "reading": ((("gauge", "read_at"), False),),
    "tally": ((("grouping", "family", "value", "month"), True),),
}

FIELDS = {
    "auto": AutoField,
    "text": TextField,
    "integer": IntegerField,
    "big": BigIntegerField,
    "yes_no": BooleanField,
}


def field(words):
    kind, *rest = words
    options = {}
    if "key" in rest:
        options["primary_key"] = True
    if "unique" in rest:
        options["unique"] = True
    if "index" in rest:
        options["index"] = True
    if "null" in rest:
        options["null"] = True
    if "zero" in rest:
        options["default"] = 0
    return FIELDS[kind](**options)


def model(db, name, columns):
    meta = type(
        "Meta",
        (),
        {
            "database": db,
            "table_name": name,
            "legacy_table_names": False,
            "indexes": INDEXES.get(name, ()),
        },
    )
    fields = {line.split()[0]: field(line.split()[1:]) for line in columns}
    return type(name.title().replace("_", ""), (Model,), {"Meta": meta, **fields})


# History is never changed: the database itself refuses it, whoever asks.
SQLITE_GUARDS = """
CREATE TRIGGER {table}_no_update BEFORE UPDATE ON "{table}"
BEGIN SELECT RAISE(ABORT, 'history is never changed'); END;
CREATE TRIGGER {table}_no_delete BEFORE DELETE ON "{table}"
BEGIN SELECT RAISE(ABORT, 'history is never deleted'); END
"""

POSTGRESQL_GUARD = """
CREATE OR REPLACE FUNCTION refuse_history_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'history is never changed' USING ERRCODE = 'restrict_violation';
END $$
"""

# Emptying a table fires no trigger of its rows: it needs one of its own.
POSTGRESQL_TRIGGERS = """
CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON "{table}"
FOR EACH ROW EXECUTE FUNCTION refuse_history_change();
CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON "{table}"
FOR EACH STATEMENT EXECUTE FUNCTION refuse_history_change()
"""


def up(migrator, db):
    del migrator
    db.create_tables([model(db, name, columns) for name, columns in TABLES.items()], safe=False)
    if type(db).__name__.startswith("Sqlite"):
        for table in ("event", "seal"):
            for statement in SQLITE_GUARDS.format(table=table).split("END;"):
                text = statement.strip()
                db.execute_sql(text if text.endswith("END") else text + " END")
    else:
        db.execute_sql(POSTGRESQL_GUARD)
        for table in ("event", "seal"):
            for statement in POSTGRESQL_TRIGGERS.format(table=table).split(";"):
                db.execute_sql(statement)
