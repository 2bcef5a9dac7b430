from django.db import migrations

TABLE = "api_change"
SENTENCE = "The change log is append-only."

# A migration that alters this table on SQLite rebuilds it and loses its triggers with the old
# table: such a migration must run install() again at its end.
ON_SQLITE = [
    f"""CREATE TRIGGER change_not_updated BEFORE UPDATE ON {TABLE}
    BEGIN SELECT RAISE(ABORT, '{SENTENCE}'); END""",
    f"""CREATE TRIGGER change_not_deleted BEFORE DELETE ON {TABLE}
    BEGIN SELECT RAISE(ABORT, '{SENTENCE}'); END""",
    # INSERT OR REPLACE deletes the row it replaces without firing the trigger on DELETE.
    f"""CREATE TRIGGER change_not_replaced BEFORE INSERT ON {TABLE}
    WHEN EXISTS (SELECT 1 FROM {TABLE} WHERE id = NEW.id)
    BEGIN SELECT RAISE(ABORT, '{SENTENCE}'); END""",
]
ON_POSTGRESQL = [
    f"""CREATE FUNCTION change_refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        RAISE EXCEPTION '{SENTENCE}' USING ERRCODE = 'integrity_constraint_violation';
    END $$""",
    f"""CREATE TRIGGER change_append_only BEFORE UPDATE OR DELETE ON {TABLE}
    FOR EACH ROW EXECUTE FUNCTION change_refuse_change()""",
]
REMOVE_ON_SQLITE = [
    "DROP TRIGGER IF EXISTS change_not_updated",
    "DROP TRIGGER IF EXISTS change_not_deleted",
    "DROP TRIGGER IF EXISTS change_not_replaced",
]
REMOVE_ON_POSTGRESQL = [
    f"DROP TRIGGER IF EXISTS change_append_only ON {TABLE}",
    "DROP FUNCTION IF EXISTS change_refuse_change()",
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
    dependencies = [("api", "0002_have_a_group_for_each_role")]
    operations = [migrations.RunPython(install, remove)]
