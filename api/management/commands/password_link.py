"""`manage.py password_link NAME`: where no mail is sent, an administrator hands the link over."""

from argparse import ArgumentParser
from typing import Any

from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand, CommandError

from api.screens.account.passwords import link_to_set_password


class Command(BaseCommand):
    help = "Prints the address under which a user sets a password: once, within a day."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="the user name")

    def handle(self, *args: Any, **options: Any) -> None:
        user = get_user_model().objects.filter(username=options["name"], is_active=True).first()
        if user is None:
            raise CommandError(f"There is no active user {options['name']!r}.")
        self.stdout.write(link_to_set_password(user))
