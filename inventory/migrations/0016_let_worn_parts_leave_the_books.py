from importlib import import_module

from django.db import migrations, models
from django.db.migrations.exceptions import IrreversibleError

LEDGER = import_module("inventory.migrations.0002_ledger_is_append_only")


def put_triggers_back(apps, schema_editor):
    """SQLite rebuilds the table and loses its triggers with the old one."""
    LEDGER.run(schema_editor.connection, on_sqlite=LEDGER.REMOVE_ON_SQLITE + LEDGER.ON_SQLITE, on_postgresql=[])


def refuse_worn(apps, schema_editor):
    """Before, a worn part could not leave the books with its return."""
    entries = apps.get_model("inventory", "StockEntry").objects.using(schema_editor.connection.alias)
    worn = entries.filter(reason_code="worn").count()
    if worn:
        raise IrreversibleError(
            f"{worn} movements are of worn parts that left the books, which an older version cannot keep: restore the backup "
            "from before the update instead."
        )


class Migration(migrations.Migration):
    dependencies = [("inventory", "0015_reverse_movements_in_part")]
    operations = [
        migrations.RunPython(migrations.RunPython.noop, put_triggers_back),
        migrations.RemoveConstraint(
            model_name='stockentry',
            name='stock_entry_reason_code_known_word',
        ),
        migrations.RemoveConstraint(
            model_name='stockentry',
            name='stock_entry_transfer_has_two_ends',
        ),
        migrations.AlterField(
            model_name='stockentry',
            name='reason_code',
            field=models.CharField(blank=True, choices=[('not_needed', 'not needed'), ('worn', 'worn, leaves the books'), ('did_not_fit', 'did not fit'), ('wrong_item', 'wrong item'), ('defective', 'defective'), ('surplus', 'surplus'), ('found', 'found'), ('not_there', 'not there'), ('written_off', 'written off')], help_text='Of a return, a count or a scrap.', max_length=12),
        ),
        migrations.AlterField(
            model_name='stockentry',
            name='transfer',
            field=models.UUIDField(blank=True, help_text='Shared by the two legs of a transfer, or by the return and the scrap of a worn part.', null=True),
        ),
        migrations.AddConstraint(
            model_name='stockentry',
            constraint=models.CheckConstraint(condition=models.Q(('reason_code__in', ['not_needed', 'worn', 'did_not_fit', 'wrong_item', 'defective', 'surplus', 'found', 'not_there', 'written_off', ''])), name='stock_entry_reason_code_known_word', violation_error_message='reason_code must be one of not_needed, worn, did_not_fit, wrong_item, defective, surplus, found, not_there, written_off.'),
        ),
        migrations.AddConstraint(
            model_name='stockentry',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'transfer'), ('other_storeroom__isnull', False), ('transfer__isnull', False)), models.Q(('kind__in', ['return', 'scrap']), ('other_storeroom__isnull', True), ('reason_code', 'worn'), ('transfer__isnull', False)), models.Q(models.Q(('kind', 'transfer'), _negated=True), ('other_storeroom__isnull', True), ('transfer__isnull', True)), _connector='OR'), name='stock_entry_transfer_has_two_ends', violation_error_message='A transfer, and only a transfer, names its other storeroom.'),
        ),
        migrations.RunPython(put_triggers_back, migrations.RunPython.noop),
        migrations.RunPython(migrations.RunPython.noop, refuse_worn),
    ]
