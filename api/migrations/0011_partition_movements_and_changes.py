"""Movements and the change log become tables of partitions by time, on PostgreSQL; SQLite keeps each table whole.

PostgreSQL holds a unique constraint over all partitions only where it includes the column of the time. So

- the primary key becomes (id, time). Ids stay unique because one sequence gives them;
- a foreign key that points to such a table becomes a deferred constraint trigger of the same name. That is enough where rows
  are never deleted, which the triggers of both logs refuse;
- that a movement's reference is booked once in a storeroom, over all time, is held by a table of the references, which a
  trigger fills in the same transaction.

This migration stands here and not beside the ledger, because every table that points to a movement must be there before it.
"""

from datetime import UTC, datetime

from django.db import migrations, models

from inventory.plumbing.partitions import free_periods, moments_ahead, rest_of

TABLES = {
    "inventory_stockentry": ("inventory", "StockEntry", "occurred_at"),
    "api_change": ("api", "Change", "at"),
}
LOOKUP = "_lookup"
REFERENCES = "inventory_movement_reference"
HOLD_REFERENCES = [
    f"""CREATE TABLE {REFERENCES} (reference varchar(80) NOT NULL, storeroom_id bigint NOT NULL,
    CONSTRAINT movement_reference_booked_once UNIQUE (reference, storeroom_id))""",
    f"INSERT INTO {REFERENCES} SELECT reference, storeroom_id FROM inventory_stockentry WHERE reference <> ''",
    f"""CREATE FUNCTION stock_entry_keep_reference() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        INSERT INTO {REFERENCES} VALUES (NEW.reference, NEW.storeroom_id);
        RETURN NULL;
    END $$""",
    """CREATE TRIGGER stock_entry_reference_kept AFTER INSERT ON inventory_stockentry
    FOR EACH ROW WHEN (NEW.reference <> '') EXECUTE FUNCTION stock_entry_keep_reference()""",
    # Whoever empties the ledger (a restore, the flush between tests) empties what is known of it.
    f"""CREATE FUNCTION stock_entry_forget_references() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        IF EXISTS (SELECT FROM {REFERENCES}) THEN TRUNCATE {REFERENCES}; END IF;
        RETURN NULL;
    END $$""",
    """CREATE TRIGGER stock_entry_references_forgotten AFTER TRUNCATE ON inventory_stockentry
    FOR EACH STATEMENT EXECUTE FUNCTION stock_entry_forget_references()""",
]
LET_REFERENCES_GO = [
    "DROP TRIGGER stock_entry_reference_kept ON inventory_stockentry",
    "DROP TRIGGER stock_entry_references_forgotten ON inventory_stockentry",
    "DROP FUNCTION stock_entry_keep_reference()",
    "DROP FUNCTION stock_entry_forget_references()",
    f"DROP TABLE {REFERENCES}",
]
INDEXES = """
    SELECT class.relname, pg_get_indexdef(indexrelid), indisunique
    FROM pg_index JOIN pg_class AS class ON class.oid = indexrelid
    WHERE indrelid = to_regclass(%s) AND NOT indisprimary ORDER BY 1"""
KEYS_OUT = """
    SELECT conname, pg_get_constraintdef(oid) FROM pg_constraint
    WHERE contype = 'f' AND conrelid = to_regclass(%s) AND confrelid <> conrelid ORDER BY 1"""
KEYS_IN = """
    SELECT conrelid::regclass::text, conname, attname
    FROM pg_constraint JOIN pg_attribute ON attrelid = conrelid AND attnum = conkey[1]
    WHERE contype = 'f' AND confrelid = to_regclass(%s) AND conparentid = 0 ORDER BY 1, 2"""
TRIGGERS = """
    SELECT pg_get_triggerdef(oid) FROM pg_trigger
    WHERE tgrelid = to_regclass(%s) AND NOT tgisinternal AND tgconstraint = 0 ORDER BY 1"""
KEY_TRIGGERS = """
    SELECT tgrelid::regclass::text, tgname, attname
    FROM pg_trigger JOIN pg_proc ON pg_proc.oid = tgfoid JOIN pg_attribute ON attrelid = tgrelid AND attnum = tgattr[0]
    WHERE proname = left(tgname, 63) AND tgparentid = 0 AND obj_description(pg_proc.oid, 'pg_proc') = %s ORDER BY 1, 2"""


def rows(cursor, sql, *values):
    cursor.execute(sql, values)
    return cursor.fetchall()


def split(apps, schema_editor):
    if schema_editor.connection.vendor != "postgresql":
        return
    with schema_editor.connection.cursor() as cursor:
        for table, (_, _, time) in TABLES.items():
            split_table(cursor, table, time)
        for statement in HOLD_REFERENCES:
            cursor.execute(statement)


def join(apps, schema_editor):
    if schema_editor.connection.vendor != "postgresql":
        return
    with schema_editor.connection.cursor() as cursor:
        for statement in LET_REFERENCES_GO:
            cursor.execute(statement)
        for table, (app, name, _) in TABLES.items():
            join_table(cursor, table)
            hold_unique(schema_editor, apps.get_model(app, name))


def split_table(cursor, table, time):
    cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    indexes, keys_out, keys_in = (rows(cursor, sql, table) for sql in (INDEXES, KEYS_OUT, KEYS_IN))
    triggers = rows(cursor, TRIGGERS, table)
    for holder, name, _ in keys_in:
        cursor.execute(f'ALTER TABLE {holder} DROP CONSTRAINT "{name}"')
    replace_table(cursor, table, f"PARTITION BY RANGE ({time})", lambda old: make_partitions(cursor, table, old, time))
    cursor.execute(f"ALTER TABLE {table} ADD CONSTRAINT {table}_pkey PRIMARY KEY (id, {time})")
    for name, definition, is_unique in indexes:
        if is_unique:
            definition = definition.replace(f"CREATE UNIQUE INDEX {name} ", f"CREATE INDEX {name}{LOOKUP} ")
        cursor.execute(definition)
    for name, definition in keys_out:
        cursor.execute(f'ALTER TABLE {table} ADD CONSTRAINT "{name}" {definition}')
    for (definition,) in triggers:
        cursor.execute(definition)
    for holder, name, column in keys_in:
        for statement in key_trigger(table, holder, name, column):
            cursor.execute(statement)


def join_table(cursor, table):
    cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    indexes, keys_out = rows(cursor, INDEXES, table), rows(cursor, KEYS_OUT, table)
    keys_in, triggers = rows(cursor, KEY_TRIGGERS, table), rows(cursor, TRIGGERS, table)
    for holder, name, _ in keys_in:
        cursor.execute(f'DROP TRIGGER "{name}" ON {holder}')
        cursor.execute(f'DROP FUNCTION "{name}"()')
    replace_table(cursor, table, "", lambda old: None)
    cursor.execute(f"ALTER TABLE {table} ADD CONSTRAINT {table}_pkey PRIMARY KEY (id)")
    for name, definition, _ in indexes:
        if not name.endswith(LOOKUP):
            cursor.execute(definition.replace(" ON ONLY ", " ON ", 1))
    for name, definition in keys_out:
        cursor.execute(f'ALTER TABLE {table} ADD CONSTRAINT "{name}" {definition}')
    for (definition,) in triggers:
        cursor.execute(definition)
    for holder, name, column in keys_in:
        refers = f"FOREIGN KEY ({column}) REFERENCES {table} (id) DEFERRABLE INITIALLY DEFERRED"
        cursor.execute(f'ALTER TABLE {holder} ADD CONSTRAINT "{name}" {refers}')


def replace_table(cursor, table, partitioned, prepare):
    """A table of the same columns and checks takes over name, rows and numbers; indexes follow, which is quicker."""
    old = f"{table}_replaced"
    ((last, is_called),) = rows(cursor, f"SELECT last_value, is_called FROM {sequence_of(cursor, table)}")
    cursor.execute(f"ALTER TABLE {table} RENAME TO {old}")
    cursor.execute(f"CREATE TABLE {table} (LIKE {old} INCLUDING ALL EXCLUDING INDEXES EXCLUDING IDENTITY) {partitioned}")
    prepare(old)
    cursor.execute(f"INSERT INTO {table} SELECT * FROM {old} ORDER BY id")
    cursor.execute(f"DROP TABLE {old}")
    cursor.execute(f"ALTER TABLE {table} ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY")
    cursor.execute("SELECT setval(%s, %s, %s)", [sequence_of(cursor, table), last, is_called])


def sequence_of(cursor, table):
    return rows(cursor, "SELECT pg_get_serial_sequence(%s, 'id')", table)[0][0]


def make_partitions(cursor, table, old, time):
    """Of every period of which there are rows, of those ahead, and for the rest."""
    kept = rows(cursor, f"SELECT min({time}) FROM {old} GROUP BY date_trunc('month', {time} AT TIME ZONE 'UTC')")
    moments = [moment for (moment,) in kept] + list(moments_ahead(datetime.now(UTC)))
    for period in free_periods([], moments):
        cursor.execute(
            f"CREATE TABLE {period.name(table)} PARTITION OF {table} FOR VALUES FROM (%s) TO (%s)",
            [period.begins, period.ends],
        )
    cursor.execute(f"CREATE TABLE {rest_of(table)} PARTITION OF {table} DEFAULT")


def key_trigger(table, holder, name, column):
    """Checked at the end of the transaction, as the foreign key was; the comment tells what it stands for."""
    return [
        f"""CREATE FUNCTION "{name}"() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            IF NOT EXISTS (SELECT FROM {table} WHERE id = NEW.{column}) THEN
                RAISE foreign_key_violation USING CONSTRAINT = '{name}', MESSAGE =
                    format('insert or update on table "{holder}" violates foreign key constraint "{name}": '
                    '{table} has no id %s', NEW.{column});
            END IF;
            RETURN NULL;
        END $$""",
        f"""COMMENT ON FUNCTION "{name}"() IS '{table}'""",
        f"""CREATE CONSTRAINT TRIGGER "{name}" AFTER INSERT OR UPDATE OF {column} ON {holder}
        DEFERRABLE INITIALLY DEFERRED FOR EACH ROW WHEN (NEW.{column} IS NOT NULL) EXECUTE FUNCTION "{name}"()""",
    ]


def hold_unique(schema_editor, model):
    for constraint in model._meta.constraints:
        if isinstance(constraint, models.UniqueConstraint):
            schema_editor.add_constraint(model, constraint)


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0002_ledger_is_append_only"),
        ("drives", "0001_first_release"),
        ("api", "0005_change_log_is_append_only"),
    ]
    operations = [migrations.RunPython(split, join)]
