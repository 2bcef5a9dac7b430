from django.db import migrations


def forget_answers(apps, schema_editor):
    """Their lines have another form: the next one who asks has them calculated."""
    apps.get_model("api", "BackgroundJob").objects.filter(kind="exposure").update(answer=None)


class Migration(migrations.Migration):

    dependencies = [
        ('api', '0016_find_lines_of_a_job_by_their_place'),
    ]

    operations = [
        migrations.RunPython(forget_answers, migrations.RunPython.noop),
    ]
