import pytest
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

pytestmark = pytest.mark.django_db


def test_a_database_of_some_replaced_migrations_is_not_taken_for_migrated() -> None:
    call_command("check", databases=["default"])
    MigrationRecorder(connection).record_unapplied("drives", "0023_name_who_approves_substitutes")
    with pytest.raises(SystemCheckError, match="lacks 0023_name_who_approves_substitutes of drives"):
        call_command("check", databases=["default"])
