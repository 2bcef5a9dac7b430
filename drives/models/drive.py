"""Drives and their sprocket positions."""

from datetime import date

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from drives.models.plant import Equipment
from inventory.interchange.vocabulary import (
    Environment,
    HubStyle,
    KeyStandard,
    Material,
    PositionRole,
    ShaftKind,
)
from inventory.models.engagement import ENGAGEMENT_LENGTHS, ChainEngagement
from inventory.models.fields import (
    MINUTES_A_WEEK,
    Stamped,
    check,
    currency,
    in_order,
    length_mm,
    money,
    not_negative,
    one_of,
    orders,
    positive,
    within,
    word,
)
from inventory.models.messages import invalid
from inventory.models.text_index import NormalForm, TextIndex
from inventory.standards.tooth_counts import COUNTED_TEETH, STRANDS


class Criticality(models.TextChoices):
    VITAL = "vital", _("vital")
    ESSENTIAL = "essential", _("essential")
    DESIRABLE = "desirable", _("desirable")


class Lubrication(models.TextChoices):
    NONE = "none", _("none")
    MANUAL = "manual", _("manual")
    DRIP = "drip", _("drip")
    BATH = "bath", _("bath")
    STREAM = "stream", _("oil stream")


class Shock(models.TextChoices):
    SMOOTH = "smooth", _("smooth")
    MODERATE = "moderate", _("moderate shock")
    HEAVY = "heavy", _("heavy shock")


class Drive(ChainEngagement, Stamped):
    tag = models.CharField(max_length=40, unique=True)
    equipment = models.ForeignKey(Equipment, on_delete=models.PROTECT, related_name="drives")
    name = models.CharField(max_length=120)
    links = models.PositiveSmallIntegerField(null=True, blank=True)
    centre_distance_mm = length_mm()
    centre_adjustment_min_mm = models.DecimalField(
        max_digits=10,
        decimal_places=3,
        null=True,
        blank=True,
        help_text=_("How far the shafts can move together, as a negative number of mm."),
    )
    centre_adjustment_max_mm = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    fixed_centres = models.BooleanField(null=True, blank=True)
    power_kw = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    driver_speed_rpm = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    service_factor = models.DecimalField(max_digits=5, decimal_places=3, null=True, blank=True)
    ratio_tolerance_percent = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True)
    lubrication = models.CharField(max_length=10, choices=Lubrication.choices, blank=True)
    environment = models.JSONField(default=list, blank=True)
    temperature_c = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    hours_per_year = models.PositiveSmallIntegerField(null=True, blank=True)
    criticality = models.CharField(max_length=10, choices=Criticality.choices, blank=True)
    downtime_cost_per_hour = money()
    currency = currency()
    lifting = models.BooleanField(
        default=False, help_text=_("Lifts, hoists or carries people: no automatic substitutes.")
    )
    reversing = models.BooleanField(null=True, blank=True)
    shock = models.CharField(max_length=10, blank=True, choices=Shock.choices)
    food_contact_required = models.BooleanField(default=False)
    non_sparking_required = models.BooleanField(default=False)
    hardened_teeth_required = models.BooleanField(
        null=True,
        blank=True,
        help_text=_("The drive's own rule on tooth hardness; empty: the general rule applies."),
    )
    fitting_minutes = models.PositiveIntegerField(
        null=True, blank=True, help_text=_("Minutes to change one sprocket here.")
    )
    in_use_from = models.DateField(null=True, blank=True)
    in_use_until = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["tag"]
        indexes = [
            TextIndex(fields=["tag", "name"], name="drive_text", keeps_words=True),
            models.Index(NormalForm("tag"), name="drive_normal_tag"),
            models.Index(fields=["chain_designation", "pitch_mm"], name="drive_of_chain"),
            *orders("drive", "name power_kw driver_speed_rpm downtime_cost_per_hour updated_at"),
        ]
        constraints = [
            *positive(
                "drive",
                (*ENGAGEMENT_LENGTHS, "centre_distance_mm", "power_kw", "driver_speed_rpm", "service_factor"),
            ),
            within("drive", "strands", *STRANDS),
            within("drive", "links", 6, 20_000),
            within("drive", "hours_per_year", 0, 8784),
            within("drive", "ratio_tolerance_percent", 0, 100),
            within("drive", "fitting_minutes", 0, MINUTES_A_WEEK),
            within("drive", "temperature_c", -100, 1000),
            not_negative("drive", "downtime_cost_per_hour"),
            one_of("drive", "lubrication", Lubrication),
            one_of("drive", "criticality", Criticality),
            one_of("drive", "shock", Shock),
            in_order("drive", "in_use_from", "in_use_until"),
            check(
                "drive_adjustment_in_order",
                Q(centre_adjustment_min_mm__isnull=True)
                | Q(centre_adjustment_max_mm__isnull=True)
                | Q(centre_adjustment_min_mm__lte=F("centre_adjustment_max_mm")),
                _("centre_adjustment_min_mm must not be above centre_adjustment_max_mm."),
            ),
        ]

    def __str__(self) -> str:
        return self.tag

    def clean(self) -> None:
        self.adopt_designation()
        if not isinstance(self.environment, list):
            raise ValidationError({"environment": invalid("environment_not_a_list")})
        known = [word.value for word in Environment]
        unknown = [str(word) for word in self.environment if word not in known]
        if unknown:
            words = {"words": ", ".join(unknown), "allowed": ", ".join(known)}
            raise ValidationError({"environment": invalid("environment_words_not_known", **words)})


class RequirementBasis(models.TextChoices):
    STATED = "stated", _("stated by an engineer or a drawing")
    COPIED = "copied_from_fitted", _("copied from what was fitted")


class IdlerKind(models.TextChoices):
    FIXED = "fixed", _("fixed")
    ADJUSTABLE = "adjustable", _("adjustable")
    SPRING_LOADED = "spring_loaded", _("spring-loaded")


class PositionQuerySet(models.QuerySet["Position"]):
    def with_drive(self) -> "PositionQuerySet":
        return self.select_related(
            "drive__equipment__area__plant__storeroom", "drive__equipment__area__plant__machine_shop"
        )


POSITION_LENGTHS = (
    "shaft_diameter_mm",
    "key_width_mm",
    "key_height_mm",
    "keyway_depth_mm",
    "hex_across_flats_mm",
    "envelope_outside_diameter_mm",
    "envelope_hub_diameter_mm",
    "envelope_length_through_bore_mm",
)


class Position(Stamped):
    """A position on a drive, and its requirements on the sprocket."""

    tag = models.CharField(max_length=60, unique=True)
    drive = models.ForeignKey(Drive, on_delete=models.PROTECT, related_name="positions")
    name = models.CharField(max_length=120, blank=True)
    role = word(PositionRole, optional=False)
    idler_kind = models.CharField(max_length=15, choices=IdlerKind.choices, blank=True)
    teeth = models.PositiveSmallIntegerField(null=True, blank=True)
    minimum_teeth = models.PositiveSmallIntegerField(null=True, blank=True, help_text=_("Of an idler."))
    shaft_kind = word(ShaftKind)
    shaft_diameter_mm = length_mm()
    key_width_mm = length_mm()
    key_height_mm = length_mm()
    keyway_depth_mm = length_mm(help_text=_("Required keyway depth in the hub over the key, in mm."))
    key_standard = word(KeyStandard)
    hex_across_flats_mm = length_mm()
    bush_size = models.CharField(max_length=6, blank=True, help_text=_("The bush that is on the shaft now."))
    hub_style = word(HubStyle)
    material = word(Material)
    hardened_teeth = models.BooleanField(null=True, blank=True)
    envelope_outside_diameter_mm = length_mm(
        help_text=_("Clear diameter under the guard, in mm: the wheel with its chain on has to turn in it.")
    )
    envelope_hub_diameter_mm = length_mm()
    envelope_length_through_bore_mm = length_mm(
        help_text=_("Greatest length that the shaft and the guard allow, in mm.")
    )
    requirement_basis = models.CharField(
        max_length=20, choices=RequirementBasis.choices, default=RequirementBasis.COPIED
    )
    in_use_from = models.DateField(null=True, blank=True)
    in_use_until = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)

    objects = PositionQuerySet.as_manager()

    class Meta:
        ordering = ["tag"]
        indexes = [
            models.Index(fields=["teeth", "role"], name="position_of_teeth"),
            TextIndex(fields=["tag", "name"], name="position_text", keeps_words=True),
            models.Index(NormalForm("tag"), name="position_normal_tag"),
            *orders("position", "role teeth shaft_diameter_mm updated_at"),
        ]
        constraints = [
            *positive("position", POSITION_LENGTHS),
            within("position", "teeth", *COUNTED_TEETH),
            within("position", "minimum_teeth", *COUNTED_TEETH),
            one_of("position", "role", PositionRole, optional=False),
            one_of("position", "idler_kind", IdlerKind),
            one_of("position", "requirement_basis", RequirementBasis, optional=False),
            in_order("position", "in_use_from", "in_use_until"),
            one_of("position", "shaft_kind", ShaftKind),
            one_of("position", "key_standard", KeyStandard),
            one_of("position", "hub_style", HubStyle),
            one_of("position", "material", Material),
        ]

    def __str__(self) -> str:
        return self.tag

    def is_in_use_on(self, day: date) -> bool:
        """Neither it nor its drive went out of use before that day."""
        return all(last is None or last >= day for last in (self.in_use_until, self.drive.in_use_until))
