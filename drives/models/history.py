"""Installations and inspections. Written by `drives.service_record.history` alone."""

from datetime import datetime

from django.db import models
from django.db.models import Exists, F, OuterRef, Q, Subquery
from django.utils.translation import gettext_lazy as _

from drives.models.drive import Position
from inventory.models import Item, Specification, StockEntry
from inventory.models.fields import Stamped, check, not_negative, one_of, optional_link, orders, unique
from inventory.models.text_index import TextIndex


class EndedBy(models.TextChoices):
    FAILURE = "failure", _("failure")
    LIMIT_REACHED = "limit_reached", _("worn to the limit")
    PREVENTIVE = "preventive", _("preventive")
    OPPORTUNITY = "opportunity", _("replaced with its mate")
    RELOCATED = "relocated", _("relocated")
    MODIFICATION = "modification", _("modification")
    DECOMMISSIONED = "decommissioned", _("decommissioned")
    UNKNOWN = "unknown", _("unknown")


class Mechanism(models.TextChoices):
    WEAR = "wear", _("wear")
    MISALIGNMENT = "misalignment", _("misalignment")
    CORROSION = "corrosion", _("corrosion")
    FRACTURE = "fracture", _("fracture")
    FATIGUE = "fatigue", _("fatigue")
    DEFORMATION = "deformation", _("deformation")
    LOOSENESS = "looseness", _("looseness")
    SEIZURE = "seizure", _("seizure")
    OVERLOAD = "overload", _("overload")
    BUSH_LOOSE = "bush_loose", _("bush loose")
    KEY_FAILURE = "key_failure", _("key failure")
    BEARING = "bearing", _("bearing")
    CONTAMINATION = "contamination", _("contamination")
    OTHER = "other", _("other")
    UNKNOWN = "unknown", _("unknown")


class AgeBasis(models.TextChoices):
    METER = "meter", _("meter")
    CALENDAR = "calendar", _("calendar")


def last_for_good(position: str) -> Subquery:
    """Key of the last unit at the position of an outer query that was not fitted for a limited time, removed since or not."""
    units = Installation.objects.filter(position=OuterRef(position), temporary_until__isnull=True)
    return Subquery(units.order_by("-installed_at", "-pk").values("pk")[:1])


class InstallationQuerySet(models.QuerySet["Installation"]):
    def still_fitted(self) -> "InstallationQuerySet":
        return self.filter(removed_at__isnull=True)

    def last_for_good(self) -> "InstallationQuerySet":
        """Of each position, what it wants: a temporary unit does not count, and a removal changes nothing."""
        return self.filter(pk=last_for_good("position"))

    def without_issue(self, since: datetime) -> "InstallationQuerySet":
        """Stock items fitted since then of which no issue for the position is on record since then."""
        issues = StockEntry.objects.issues().filter(
            item=OuterRef("item"), position=OuterRef("position__tag"), occurred_at__gte=since
        )
        fitted = self.filter(installed_at__gte=since, item__stocked=True, stock_entry__isnull=True)
        return fitted.filter(~Exists(issues))

    def items_by_position(self) -> dict[int, int]:
        rows = self.filter(item__isnull=False).values_list("position_id", "item_id")
        return {position: item for position, item in rows if item}

    def with_parts(self) -> "InstallationQuerySet":
        return self.select_related("position__drive", "item", "specification")


class Installation(Stamped):
    """One unit on one position, from its installation to its removal."""

    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="installations")
    item = optional_link(Item, "installations")
    specification = optional_link(Specification, "installations")
    stock_entry = models.OneToOneField(
        StockEntry,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="installation",
        help_text=_("The issue from stock."),
    )
    installed_at = models.DateTimeField()
    installed_why = models.CharField(max_length=200, blank=True)
    removed_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.CharField(max_length=15, choices=EndedBy.choices, blank=True)
    mechanism = models.CharField(max_length=15, choices=Mechanism.choices, blank=True)
    cause = models.CharField(max_length=60, blank=True)
    part = models.CharField(max_length=40, blank=True)
    running_hours = models.DecimalField(max_digits=10, decimal_places=1, null=True, blank=True)
    age_basis = models.CharField(max_length=10, choices=AgeBasis.choices, blank=True)
    work_order = models.CharField(max_length=60, blank=True, help_text=_("The work order that ended it."))
    temporary_until = models.DateField(null=True, blank=True)
    approved_by = models.CharField(max_length=80, blank=True)
    approval_reference = models.CharField(max_length=80, blank=True)
    inspect_by = models.DateField(null=True, blank=True)
    differences = models.JSONField(default=list, blank=True)
    awaits_approval = models.BooleanField(
        default=False, help_text=_("Another person has to approve it; it was fitted before.")
    )
    recorded_by_name = models.CharField(max_length=150, blank=True)
    note = models.TextField(blank=True)

    objects = InstallationQuerySet.as_manager()

    class Meta:
        ordering = ["-installed_at", "-id"]
        indexes = [
            models.Index(fields=["position", "-installed_at"], name="installation_of_position"),
            models.Index(fields=["work_order"], name="installation_work_order"),
            models.Index(fields=["updated_at"], name="installation_changed"),
            *orders(
                "installation",
                "installed_at running_hours",
                known_only="removed_at temporary_until inspect_by",
            ),
            TextIndex(fields=["installed_why", "cause", "note", "work_order"], name="installation_text"),
        ]
        constraints = [
            unique(
                "one_unit_fitted_per_position",
                ["position"],
                _("A unit is fitted at this position: record its removal first."),
                Q(removed_at__isnull=True),
            ),
            check(
                "removed_not_before_installed",
                Q(removed_at__isnull=True) | Q(removed_at__gte=F("installed_at")),
                _("removed_at must not be before installed_at."),
            ),
            check(
                "installation_end_says_why",
                Q(removed_at__isnull=True, ended_by="") | Q(removed_at__isnull=False) & ~Q(ended_by=""),
                _("An end needs both removed_at and ended_by (unknown is allowed)."),
            ),
            not_negative("installation", "running_hours"),
            one_of("installation", "ended_by", EndedBy),
            one_of("installation", "mechanism", Mechanism),
            one_of("installation", "age_basis", AgeBasis),
            check(
                "installation_says_what",
                Q(item__isnull=False) | Q(specification__isnull=False),
                _("Give an item or a specification."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position}, {self.installed_at:%Y-%m-%d}"


class Inspection(Stamped):
    """A finding at a position: chain elongation, hooked teeth."""

    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="inspections")
    at = models.DateTimeField()
    elongation_percent = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    hooked_teeth = models.BooleanField(null=True, blank=True)
    running_hours = models.DecimalField(max_digits=10, decimal_places=1, null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [
            models.Index(fields=["position", "-at"], name="inspection_of_position"),
            *orders("inspection", "at elongation_percent"),
            TextIndex(fields=["note"], name="inspection_text"),
        ]
        constraints = [
            check(
                "inspection_elongation_within_bounds",
                Q(elongation_percent__isnull=True)
                | Q(elongation_percent__gte=-1, elongation_percent__lte=20),
                _("elongation_percent must be from -1 to 20: was it measured over enough pitches?"),
            ),
            not_negative("inspection", "running_hours"),
        ]

    def __str__(self) -> str:
        return f"{self.position}, {self.at:%Y-%m-%d}"
