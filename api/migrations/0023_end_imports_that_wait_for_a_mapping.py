from django.apps.registry import Apps
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def end_them(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """No page goes on with them, and nothing of them was written."""
    apps.get_model("api", "ImportFile").objects.filter(run__state="mapping").delete()
    apps.get_model("api", "ImportRun").objects.filter(state="mapping").update(state="interrupted")


class Migration(migrations.Migration):

    dependencies = [
        ('api', '0022_keep_how_sheets_were_read'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RunPython(end_them, migrations.RunPython.noop),
        migrations.RemoveConstraint(
            model_name='importrun',
            name='import_run_state_known_word',
        ),
        migrations.AlterField(
            model_name='importrun',
            name='state',
            field=models.CharField(choices=[('queued', 'queued'), ('running', 'running'), ('done', 'done'), ('failed', 'failed: nothing was written'), ('interrupted', 'interrupted: nothing was written')], default='queued', max_length=12),
        ),
        migrations.AddConstraint(
            model_name='importrun',
            constraint=models.CheckConstraint(condition=models.Q(('state__in', ['queued', 'running', 'done', 'failed', 'interrupted'])), name='import_run_state_known_word', violation_error_message='state must be one of queued, running, done, failed, interrupted.'),
        ),
    ]
