"""Imports that the web process was carrying out when it was stopped: their files were not kept, so they cannot go on."""

from django.db import migrations
from django.utils import timezone


def end_imports(apps, schema_editor):
    unfinished = apps.get_model("api", "ImportRun").objects.filter(state__in=("queued", "running"), file=None)
    unfinished.update(state="interrupted", finished_at=timezone.now())


class Migration(migrations.Migration):

    dependencies = [
        ('api', '0007_keep_jobs_and_their_answers'),
    ]

    operations = [
        migrations.RunPython(end_imports, migrations.RunPython.noop),
    ]
