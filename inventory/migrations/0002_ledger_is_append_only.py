from django.db import migrations

TABLE = "inventory_stockentry"
SENTENCE = "The ledger is append-only: book a correcting movement instead."

# A migration that alters this table on SQLite rebuilds it and loses its triggers with the old
# table: such a migration must run install() again at its end.
ON_SQLITE = [
    f"""CREATE TRIGGER stock_entry_not_updated BEFORE UPDATE ON {TABLE}
    BEGIN SELECT RAISE(ABORT, '{SENTENCE}'); END""",
    f"""CREATE TRIGGER stock_entry_not_deleted BEFORE DELETE ON {TABLE}
    BEGIN SELECT RAISE(ABORT, '{SENTENCE}'); END""",
    # INSERT OR REPLACE deletes the row it replaces without firing the trigger on DELETE.
    f"""CREATE TRIGGER stock_entry_not_replaced BEFORE INSERT ON {TABLE}
    WHEN EXISTS (SELECT 1 FROM {TABLE} WHERE id = NEW.id)
    BEGIN SELECT RAISE(ABORT, '{SENTENCE}'); END""",
    # Written as the partial index is, so that SQLite answers from it.
    f"""CREATE TRIGGER stock_entry_reference_not_replaced BEFORE INSERT ON {TABLE}
    WHEN NEW.reference <> '' AND EXISTS (SELECT 1 FROM {TABLE}
        WHERE reference = NEW.reference AND storeroom_id = NEW.storeroom_id AND NOT (reference = ''))
    BEGIN SELECT RAISE(ABORT, 'A movement of that reference is booked already.'); END""",
]
ON_POSTGRESQL = [
    f"""CREATE FUNCTION stock_entry_refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        RAISE EXCEPTION '{SENTENCE}' USING ERRCODE = 'integrity_constraint_violation';
    END $$""",
    f"""CREATE TRIGGER stock_entry_append_only BEFORE UPDATE OR DELETE ON {TABLE}
    FOR EACH ROW EXECUTE FUNCTION stock_entry_refuse_change()""",
]
REMOVE_ON_SQLITE = [
    "DROP TRIGGER IF EXISTS stock_entry_not_updated",
    "DROP TRIGGER IF EXISTS stock_entry_not_deleted",
    "DROP TRIGGER IF EXISTS stock_entry_not_replaced",
    "DROP TRIGGER IF EXISTS stock_entry_reference_not_replaced",
]
REMOVE_ON_POSTGRESQL = [
    f"DROP TRIGGER IF EXISTS stock_entry_append_only ON {TABLE}",
    "DROP FUNCTION IF EXISTS stock_entry_refuse_change()",
]


def run(connection, *, on_sqlite, on_postgresql):
    with connection.cursor() as cursor:
        for statement in on_sqlite if connection.vendor == "sqlite" else on_postgresql:
            cursor.execute(statement)


def install(apps, schema_editor):
    run(schema_editor.connection, on_sqlite=ON_SQLITE, on_postgresql=ON_POSTGRESQL)


def remove(apps, schema_editor):
    run(schema_editor.connection, on_sqlite=REMOVE_ON_SQLITE, on_postgresql=REMOVE_ON_POSTGRESQL)


class Migration(migrations.Migration):
    dependencies = [("inventory", "0001_first_release")]
    operations = [migrations.RunPython(install, remove)]
