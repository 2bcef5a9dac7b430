"""`manage.py refresh_statistics`: looks at how the values of the tables are spread, so that SQLite takes the right index."""

from typing import Any

from django.core.management.base import BaseCommand
from django.db import connection


class Command(BaseCommand):
    help = (
        "Looks at how the values of each table are spread, by which the database chooses its indexes. The scheduler runs it "
        "every night. PostgreSQL does so by itself."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        if connection.vendor != "sqlite":
            self.stdout.write("PostgreSQL does this by itself.")
            return
        with connection.cursor() as cursor:
            # Of every row: from a part of them SQLite concludes that the list of movements is better read whole.
            cursor.execute("PRAGMA analysis_limit = 0")
            cursor.execute("ANALYZE")
        self.stdout.write("The statistics of all tables are up to date.")
