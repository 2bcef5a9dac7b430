"""Settings of a plant: thresholds of the verdict and times of shop work."""

from dataclasses import fields

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inventory.interchange.thresholds import Thresholds
from inventory.interchange.vocabulary import Operation
from inventory.models.fields import MINUTES_A_WEEK, Stamped, check, must_be_one_of, one_of, within, word
from inventory.models.messages import invalid
from inventory.stocking.demand_settings import FORMS

THRESHOLD_NAMES = sorted(spec.name for spec in fields(Thresholds))


class Rule(Stamped):
    """A threshold of the verdict with this plant's own value."""

    name = models.SlugField(max_length=60, unique=True)
    value = models.FloatField()
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            check(
                "rule_names_a_threshold",
                Q(name__in=THRESHOLD_NAMES),
                must_be_one_of("name", THRESHOLD_NAMES),
            ),
            check(
                "rule_value_is_a_number",
                Q(value__gte=-1e9, value__lte=1e9),
                _("value must be a number from -1e9 to 1e9."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} = {self.value:g}"


class PlantSetting(Stamped):
    """A setting of how demand is modelled, with this plant's own value."""

    name = models.SlugField(max_length=60, unique=True)
    value = models.FloatField()
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            check(
                "plant_setting_is_known",
                Q(name__in=list(FORMS)),
                must_be_one_of("name", FORMS),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} = {self.value:g}"

    def clean(self) -> None:
        if self.is_out_of_range:
            form = FORMS[self.name]
            limits = {"least": form.least, "most": form.most}
            raise ValidationError({"value": invalid("setting_out_of_range", setting=self.name, **limits)})

    @property
    def is_out_of_range(self) -> bool:
        form = FORMS.get(self.name)
        return form is not None and self.value is not None and not form.allows(self.value)


class ShopTime(Stamped):
    """Minutes that one operation takes here."""

    class Basis(models.TextChoices):
        ESTIMATE = "estimate", _("estimate")
        RECORDED = "recorded", _("recorded")

    operation = word(Operation, optional=False, unique=True)
    minutes = models.PositiveIntegerField()
    basis = models.CharField(max_length=10, choices=Basis.choices, default=Basis.ESTIMATE)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["operation"]
        constraints = [
            within("shop_time", "minutes", 0, MINUTES_A_WEEK),
            one_of("shop_time", "operation", Operation, optional=False),
            check(
                "shop_time_basis_known_word",
                Q(basis__in=["estimate", "recorded"]),
                _("basis must be one of estimate, recorded."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.operation}: {self.minutes} min"
