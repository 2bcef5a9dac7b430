from importlib import import_module

import django.db.models.deletion
from django.db import migrations, models
from django.db.migrations.exceptions import IrreversibleError

LEDGER = import_module("inventory.migrations.0002_ledger_is_append_only")


def put_triggers_back(apps, schema_editor):
    """SQLite rebuilds the table and loses its triggers with the old one."""
    LEDGER.run(schema_editor.connection, on_sqlite=LEDGER.REMOVE_ON_SQLITE + LEDGER.ON_SQLITE, on_postgresql=[])


def refuse_partial(apps, schema_editor):
    """Before, an entry was reversed once and as a whole."""
    entries = apps.get_model("inventory", "StockEntry").objects.using(schema_editor.connection.alias)
    reversals = entries.filter(reverses__isnull=False).order_by("pk")
    partial = sorted({pk for pk, change, whole in reversals.values_list("reverses", "change", "reverses__change") if change != -whole})
    if partial:
        raise IrreversibleError(
            f"{len(partial)} movements were reversed in part (the first is {partial[0]}), which an older version cannot keep: "
            "restore the backup from before the update instead."
        )


class Migration(migrations.Migration):
    dependencies = [("inventory", "0014_rules_of_measuring_and_room")]
    operations = [
        migrations.RunPython(migrations.RunPython.noop, put_triggers_back),
        migrations.AlterField(
            model_name='stockentry',
            name='reverses',
            field=models.ForeignKey(blank=True, help_text='The mistaken entry that this one reverses, wholly or in part.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='reversals', to='inventory.stockentry'),
        ),
        migrations.RunPython(put_triggers_back, migrations.RunPython.noop),
        migrations.RunPython(migrations.RunPython.noop, refuse_partial),
    ]
