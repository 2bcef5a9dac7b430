"""`manage.py verify_ledger`: reads the whole ledger again and lists what does not follow from it."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from api.wording.sentences import sentence
from drives.service_record import pieces_out
from inventory.models import Item
from inventory.stores.ledger.verify import verify


class Command(BaseCommand):
    help = (
        "Replays every movement, compares it with the stock levels and with the fitted units, and lists what does not follow; "
        "ends with the number of differences."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--item", metavar="STOCK_NUMBER", help="Only the movements of this item.")

    def handle(self, *args: Any, **options: Any) -> None:
        item = self._item(options["item"])
        differences = (*verify(item), *pieces_out.differences(item))
        for difference in differences:
            self.stdout.write(sentence(difference))
        self.stdout.write(f"{len(differences)} difference{'s' * (len(differences) != 1)}")
        if differences:
            raise SystemExit(1)

    def _item(self, number: str | None) -> Item | None:
        if number is None:
            return None
        item = Item.objects.filter(stock_number=number).first()
        if item is None:
            raise CommandError(f"There is no item {number!r}: give its stock number.")
        return item
