"""Plant, area and equipment."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from inventory.models import MachineShop, Storeroom
from inventory.models.fields import Stamped, one_of, optional_link, orders, timezone_name, unique
from inventory.models.text_index import TextIndex


class SubstituteApproval(models.TextChoices):
    """Whether another person approves a unit that needs review or does not fit; a reason is always needed."""

    NOT_NEEDED = "not_needed", _("not needed")
    MAY_FOLLOW = "may_follow", _("needed, may follow")
    BEFORE_FITTING = "before_fitting", _("needed before it is fitted")


class Plant(Stamped):
    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    timezone = timezone_name()
    storeroom = optional_link(Storeroom, "plants", help_text=_("The storeroom that serves this plant."))
    machine_shop = optional_link(MachineShop, "plants")
    substitute_approval = models.CharField(
        max_length=15,
        choices=SubstituteApproval.choices,
        default=SubstituteApproval.NOT_NEEDED,
        help_text=_("Approval by another person of a unit that needs review or does not fit."),
    )
    substitute_approver = models.CharField(
        max_length=80,
        blank=True,
        help_text=_("Name or role of who may approve such a unit; fitting sheets name it."),
    )
    substitute_approver_phone = models.CharField(max_length=40, blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [one_of("plant", "substitute_approval", SubstituteApproval, optional=False)]

    def __str__(self) -> str:
        return self.code


class Area(Stamped):
    plant = models.ForeignKey(Plant, on_delete=models.PROTECT, related_name="areas")
    code = models.SlugField(max_length=20)
    name = models.CharField(max_length=80)

    class Meta:
        ordering = ["plant_id", "code"]
        constraints = [
            unique(
                "area_code_once_per_plant",
                ["plant", "code"],
                _("This plant already has an area of that code."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.plant}/{self.code}"


class Equipment(Stamped):
    tag = models.CharField(max_length=40, unique=True)
    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="equipment")
    name = models.CharField(max_length=120)
    standby = models.BooleanField(
        default=False, help_text=_("A standby machine takes over when this one stops.")
    )

    class Meta:
        ordering = ["tag"]
        verbose_name_plural = _("equipment")
        indexes = [
            TextIndex(fields=["tag", "name"], name="equipment_text", keeps_words=True),
            *orders("equipment", "name"),
        ]

    def __str__(self) -> str:
        return self.tag
