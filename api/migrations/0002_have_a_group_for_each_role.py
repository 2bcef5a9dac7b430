from typing import Any

from django.db import migrations

ROLES = ("storeroom", "manager", "integration", "viewer")


def add(apps: Any, schema_editor: Any) -> None:
    groups = apps.get_model("auth", "Group").objects.using(schema_editor.connection.alias)
    for name in ROLES:
        groups.get_or_create(name=name)


class Migration(migrations.Migration):
    dependencies = [
        ("api", "0001_first_release"),
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    # On the way back the groups stay: people may have been put into them.
    operations = [migrations.RunPython(add, migrations.RunPython.noop)]
