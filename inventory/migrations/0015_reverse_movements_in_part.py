from importlib import import_module

import django.db.models.deletion
from django.db import migrations, models

LEDGER = import_module("inventory.migrations.0002_ledger_is_append_only")


def put_triggers_back(apps, schema_editor):
    """SQLite rebuilds the table and loses its triggers with the old one."""
    LEDGER.run(schema_editor.connection, on_sqlite=LEDGER.REMOVE_ON_SQLITE + LEDGER.ON_SQLITE, on_postgresql=[])


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
    ]
