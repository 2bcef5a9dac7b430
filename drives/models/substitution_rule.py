"""What an engineer decided about an item in the place of another one, or at a place: who, why, from when, until when."""

from datetime import date

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from drives.models.drive import Drive, Position
from drives.models.plant import Plant
from drives.place.item_rules import RuleKind
from inventory.models import Item
from inventory.models.fields import Stamped, check, filters, in_order, one_of, optional_link, orders, word


class SubstitutionRuleQuerySet(models.QuerySet["SubstitutionRule"]):
    def in_force(self, day: date) -> "SubstitutionRuleQuerySet":
        """Also those that begin later."""
        not_over = Q(valid_until__isnull=True) | Q(valid_until__gte=day)
        return self.filter(not_over, withdrawn_at__isnull=True)


class SubstitutionRule(Stamped):
    """`drives.substitutes.giving_rules` alone writes it. Without a position, drive or plant it holds everywhere."""

    kind = word(RuleKind, optional=False)
    item = models.ForeignKey(
        Item,
        on_delete=models.PROTECT,
        related_name="substitution_rules",
        help_text=_("The item that may serve, or never may."),
    )
    instead_of = optional_link(
        Item, "rules_to_replace_it", help_text=_("The item that it replaces; none where it never may serve.")
    )
    position = optional_link(Position, "substitution_rules")
    drive = optional_link(Drive, "substitution_rules")
    plant = optional_link(
        Plant, "substitution_rules", help_text=_("That of the position or drive, where one is named.")
    )
    reason = models.CharField(max_length=200)
    given_by = models.CharField(max_length=150, help_text=_("The person who decided it."))
    recorded_by_name = models.CharField(max_length=150)
    valid_from = models.DateField(default=timezone.localdate, help_text=_("Its first day at the place."))
    valid_until = models.DateField(
        null=True, blank=True, help_text=_("Its last day; without one it holds until it is withdrawn.")
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by_name = models.CharField(max_length=150, blank=True)
    withdrawal_reason = models.CharField(max_length=200, blank=True)

    objects = SubstitutionRuleQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        indexes = [
            *orders("substitution_rule", "valid_from valid_until", known_only="valid_until"),
            *filters("substitution_rule", "kind withdrawn_at"),
        ]
        constraints = [
            one_of("substitution_rule", "kind", RuleKind, optional=False),
            check(
                "substitution_rule_replaces_an_item",
                Q(kind=RuleKind.REPLACES.value, instead_of__isnull=False)
                | Q(kind=RuleKind.NEVER.value, instead_of__isnull=True),
                _(
                    "A rule that replaces names instead_of, the item that is replaced; one that forbids names none."
                ),
            ),
            check(
                "substitution_rule_of_another_item",
                Q(instead_of__isnull=True) | ~Q(item=F("instead_of")),
                _("instead_of must name another item: an item cannot replace itself."),
            ),
            check(
                "substitution_rule_at_one_place",
                Q(position__isnull=True) | Q(drive__isnull=True),
                _("Give a position or a drive, not both."),
            ),
            check(
                "substitution_rule_has_its_plant",
                Q(position__isnull=True, drive__isnull=True) | Q(plant__isnull=False),
                _("A position or drive belongs to a plant."),
            ),
            check(
                "substitution_rule_says_who_and_why",
                ~Q(reason="") & ~Q(given_by=""),
                _("Say who decided it and why: give given_by and reason."),
            ),
            in_order("substitution_rule", "valid_from", "valid_until"),
            check(
                "substitution_rule_withdrawn_by_someone",
                Q(withdrawn_at__isnull=True, withdrawn_by_name="", withdrawal_reason="")
                | Q(withdrawn_at__isnull=False) & ~Q(withdrawn_by_name="") & ~Q(withdrawal_reason=""),
                _("Who withdrew it, when and why are given together."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item} {self.get_kind_display()} {self.instead_of or ''}".strip()
