"""Storerooms, bins and machine shops, their opening hours and transfer times."""

from datetime import time

from django.db import models
from django.db.models import F, Q
from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import MINUTES_A_WEEK, Stamped, check, orders, timezone_name, unique, within
from inventory.models.text_index import TextIndex


class MachineShop(Stamped):
    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    timezone = timezone_name()
    call_out_minutes = models.PositiveIntegerField(
        null=True,
        blank=True,
        help_text=_("Minutes until someone is there outside opening hours; empty: no call-out."),
    )
    phone = models.CharField(max_length=40, blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [within("machine_shop", "call_out_minutes", 0, MINUTES_A_WEEK)]

    def __str__(self) -> str:
        return self.code


class Storeroom(Stamped):
    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    site = models.CharField(max_length=40, blank=True)
    timezone = timezone_name()
    machine_shop = models.ForeignKey(
        MachineShop,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="storerooms",
        help_text=_("The shop that machines parts from here."),
    )
    pick_minutes = models.PositiveIntegerField(
        default=10, help_text=_("Minutes from the request until the part is on the counter.")
    )
    call_out_minutes = models.PositiveIntegerField(
        null=True,
        blank=True,
        help_text=_("Minutes until someone is there outside opening hours; empty: no call-out."),
    )

    class Meta:
        ordering = ["code"]
        constraints = [
            within("storeroom", "pick_minutes", 0, MINUTES_A_WEEK),
            within("storeroom", "call_out_minutes", 0, MINUTES_A_WEEK),
        ]

    def __str__(self) -> str:
        return self.code


class Bin(Stamped):
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="bins")
    code = models.CharField(max_length=30)

    class Meta:
        ordering = ["storeroom_id", "code"]
        indexes = [TextIndex(fields=["code"], name="bin_text")]
        constraints = [
            unique(
                "bin_code_once_per_storeroom",
                ["storeroom", "code"],
                _("This storeroom already has a bin of that code."),
            )
        ]

    def __str__(self) -> str:
        return self.code


class OpeningHours(models.Model):
    """One period of a weekday (Monday is 0) in which a storeroom or shop is open; local time."""

    storeroom = models.ForeignKey(
        Storeroom, null=True, blank=True, on_delete=models.CASCADE, related_name="hours"
    )
    machine_shop = models.ForeignKey(
        MachineShop, null=True, blank=True, on_delete=models.CASCADE, related_name="hours"
    )
    weekday = models.PositiveSmallIntegerField(choices=list(WEEKDAYS.items()))
    opens = models.TimeField()
    closes = models.TimeField(help_text=_("00:00 is the end of the day."))

    class Meta:
        ordering = ["weekday", "opens"]
        verbose_name_plural = _("opening hours")
        constraints = [
            check(
                "opening_hours_of_one_place",
                Q(storeroom__isnull=False, machine_shop__isnull=True)
                | Q(storeroom__isnull=True, machine_shop__isnull=False),
                _("Opening hours belong to a storeroom or to a machine shop, not to both."),
            ),
            check(
                "opening_hours_weekday_known",
                Q(weekday__lte=6),
                _("weekday must be 0 (Monday) to 6 (Sunday)."),
            ),
            check(
                "opening_hours_close_after_opening",
                Q(closes__gt=F("opens")) | Q(closes=time(0, 0)),
                _("closes must be after opens: enter a night shift as two weekdays."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.opens:%H:%M}-{self.closes:%H:%M}"


class TransferTime(Stamped):
    """Minutes from one storeroom to another; without a row the time is not known, not 0."""

    # A way is looked up by both ends: an index of one alone would be taken where there are few storerooms.
    from_storeroom = models.ForeignKey(
        Storeroom, on_delete=models.CASCADE, related_name="transfers_out", db_index=False
    )
    to_storeroom = models.ForeignKey(
        Storeroom, on_delete=models.CASCADE, related_name="transfers_in", db_index=False
    )
    minutes = models.PositiveIntegerField()

    class Meta:
        ordering = ["from_storeroom_id", "to_storeroom_id"]
        indexes = [
            models.Index(fields=["to_storeroom", "from_storeroom"], name="transfer_time_to"),
            *orders("transfer_time", "minutes"),
        ]
        constraints = [
            unique(
                "transfer_time_once_per_way",
                ["from_storeroom", "to_storeroom"],
                _("This transfer time is recorded already: change that row."),
            ),
            check(
                "transfer_time_between_two_places",
                ~Q(from_storeroom=F("to_storeroom")),
                _("A transfer needs two different storerooms."),
            ),
            within("transfer_time", "minutes", 0, MINUTES_A_WEEK),
        ]

    def __str__(self) -> str:
        return f"{self.from_storeroom} → {self.to_storeroom}: {self.minutes} min"
