"""`manage.py partitions`: prepares the partitions of the next months and shows all."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser

from inventory.plumbing.leases import database_now
from inventory.plumbing.partitions import (
    MOVED_AT_MOST,
    has_more_in_rest,
    partitioned_tables,
    partitions_of,
    prepare,
)

MANY = 10**12


class Command(BaseCommand):
    help = (
        "Prepares the partitions by time that the next months need, moves rows that lie in the rest to partitions of their "
        "own, and shows all with their size. The scheduler runs it every night. SQLite has none."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--move-all",
            action="store_true",
            help=f"move more than {MOVED_AT_MOST} rows too; nobody can write to the table while it lasts",
        )

    def handle(self, *args: Any, move_all: bool, **options: Any) -> None:
        tables = partitioned_tables()
        if not tables:
            self.stdout.write("SQLite has no partitions.")
        for table, key in tables.items():
            made = prepare(table, key, database_now(), moved_at_most=MANY if move_all else MOVED_AT_MOST)
            self.stdout.write(f"{table} by {key}" + "".join(f", new: {name}" for name in made))
            for part in partitions_of(table):
                span = (
                    f"{part.period.begins:%Y-%m-%d} to {part.period.ends:%Y-%m-%d}"
                    if part.period
                    else "the rest"
                )
                self.stdout.write(f"  {part.name}: {span}, about {part.rows} rows, {part.bytes // 1024} kB")
            if has_more_in_rest(table, MOVED_AT_MOST):
                self.stdout.write(
                    f"  More than {MOVED_AT_MOST} rows lie in the rest: when nobody has to write, run "
                    f"`{settings.PROGRAM} partitions --move-all`."
                )
