"""`manage.py setting_effects`: what changes in this plant when each setting of the demand models is halved or doubled."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from drives.demand.setting_effects import setting_effects

COLUMNS = (
    "setting | value | levels changed | models changed | pieces kept | demand a year | order dates changed"
)


class Command(BaseCommand):
    help = "Halves and doubles each setting of the demand models and shows what changes; stores nothing. Takes minutes."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(COLUMNS)
        for effect in setting_effects(timezone.now()):
            self.stdout.write(
                f"{effect.setting} | {effect.value:g} | {effect.levels_changed} | {effect.models_changed} |"
                f" {effect.order_up_to_change:+d} | {effect.rate_change:+.1%} | {effect.order_dates_changed}"
            )
            self.stdout.flush()
