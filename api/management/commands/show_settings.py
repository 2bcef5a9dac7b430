"""`manage.py show_settings`: every setting, the value in force, where it comes from and what it means."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from api.environment import ENVIRONMENT, example


class Command(BaseCommand):
    help = "Shows every setting: the value in force, where it comes from, and what it means. Secrets are not shown."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--example", action="store_true", help="The text of .env.example instead.")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["example"]:
            self.stdout.write(example(), ending="")
            return
        for name, setting in ENVIRONMENT.table.items():
            value = ENVIRONMENT.text(name)
            shown = "(set)" if setting.is_secret and value else value or "(none)"
            self.stdout.write(f"{name} = {shown}  [{ENVIRONMENT.source(name)}]\n    {setting.meaning}")
