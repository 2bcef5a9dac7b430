"""Items of equal or nearly equal specification, and the merges that put one number in place of two."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import Stamped, check, currency, money, one_of, unique
from inventory.models.item import Item
from inventory.models.places import Storeroom


class Likeness(models.TextChoices):
    """What speaks for a group: the verdict in both directions, or no more than its words."""

    EQUAL = "equal", _("equal")
    NEAR = "near", _("nearly equal")
    WORDS = "words", _("similar words only")


class DuplicateGroup(models.Model):
    """Found by `manage.py find_duplicates`, which alone writes these rows; a merge takes its item out of its group."""

    likeness = models.CharField(max_length=5, choices=Likeness.choices)
    yearly_cost = money(help_text=_("Of holding apart, a year; empty: a price is not known."))
    excess_value = money(
        help_text=_("Of pieces on hand beyond one common stock; empty: a price is not known.")
    )
    worth = models.FloatField(
        default=0,
        help_text=_("The cost a year as a number, 0 where it is not known; the highest comes first."),
    )
    currency = currency()
    pieces_apart = models.PositiveIntegerField(default=0)
    pieces_together = models.PositiveIntegerField(default=0)
    differences = models.JSONField(
        default=list,
        blank=True,
        help_text=_("What differs between two items, with the grade in each direction."),
    )
    found_at = models.DateTimeField()

    class Meta:
        ordering = ["-worth", "id"]
        indexes = [models.Index(F("worth").desc(), "id", name="duplicate_group_by_worth")]
        constraints = [one_of("duplicate_group", "likeness", Likeness, optional=False)]

    def __str__(self) -> str:
        return f"{self.pk}: {self.get_likeness_display()}"


class DuplicateMember(models.Model):
    """An item of a group; it is in one group at most."""

    group = models.ForeignKey(DuplicateGroup, on_delete=models.CASCADE, related_name="members")
    item = models.OneToOneField(Item, on_delete=models.CASCADE, related_name="duplicate_member")
    demand_per_year = models.FloatField(default=0, help_text=_("Pieces a year, over all storerooms."))

    class Meta:
        ordering = ["group_id", "id"]

    def __str__(self) -> str:
        return f"{self.item} in group {self.group}"


class DuplicateShelf(models.Model):
    """The numbers of a group in one storeroom: `numbers` has demand, lead time, stock and pieces to keep of each."""

    group = models.ForeignKey(DuplicateGroup, on_delete=models.CASCADE, related_name="shelves")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.CASCADE, related_name="duplicate_shelves")
    pieces_together = models.PositiveIntegerField(help_text=_("To keep of all numbers as one."))
    numbers = models.JSONField(default=list, blank=True)

    class Meta:
        verbose_name_plural = _("duplicate shelves")
        ordering = ["group_id", "storeroom_id"]

    def __str__(self) -> str:
        return f"{self.group}, {self.storeroom}"


class MergeState(models.TextChoices):
    MERGED = "merged", _("merged")
    UNDONE = "undone", _("undone")


class Merge(Stamped):
    """One number that goes on under another. Written by `drives.duplicates` alone."""

    item = models.ForeignKey(
        Item,
        on_delete=models.PROTECT,
        related_name="merges",
        help_text=_("The number that is no longer used."),
    )
    into = models.ForeignKey(
        Item, on_delete=models.PROTECT, related_name="merges_into", help_text=_("The number that stays.")
    )
    state = models.CharField(max_length=6, choices=MergeState.choices, default=MergeState.MERGED)
    reason = models.CharField(max_length=200)
    doubts = models.JSONField(
        default=list, blank=True, help_text=_("What an engineer had to be asked about, as facts.")
    )
    needs_approval = models.BooleanField(default=False)
    approved_by = models.CharField(
        max_length=150, blank=True, help_text=_("The engineer who said yes, where one had to be asked.")
    )
    approval_reason = models.CharField(max_length=300, blank=True)
    merged_at = models.DateTimeField()
    merged_by_name = models.CharField(max_length=150)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by_name = models.CharField(max_length=150, blank=True)
    undo_reason = models.CharField(max_length=200, blank=True)
    left_with = models.JSONField(
        default=list,
        blank=True,
        help_text=_("What stayed with the other number when it was undone, as facts."),
    )

    class Meta:
        ordering = ["-id"]
        constraints = [
            one_of("merge", "state", MergeState, optional=False),
            unique(
                "item_merged_once",
                ["item"],
                _("This number is merged already: undo that merge first."),
                condition=Q(state="merged"),
            ),
            check("merge_into_another_item", ~Q(item=F("into")), _("into must name another item.")),
            check("merge_says_why", ~Q(reason=""), _("Say why: give reason.")),
            check(
                "merge_with_doubts_is_approved",
                Q(needs_approval=False) | ~Q(approved_by="") & ~Q(approval_reason=""),
                _("The items differ: give approved_by and approval_reason."),
            ),
            check(
                "undone_merge_says_why",
                Q(state="merged", undone_at__isnull=True)
                | Q(state="undone", undone_at__isnull=False) & ~Q(undo_reason=""),
                _("Say why it is undone: give reason."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item} → {self.into}"


class MergeStep(models.TextChoices):
    STOCK = "stock", _("stock")
    RESERVATION = "reservation", _("reservation")
    POLICY = "policy", _("stock policy")
    SUPPLY_ORDER = "supply_order", _("supply order")
    REQUESTS = "requests", _("requests")
    RECOMMENDATION = "recommendation", _("recommendation")
    COUNT = "count", _("count")
    ITEM = "item", _("item")


class MergeLine(models.Model):
    """One step of a merge: what a record was before it, so that the merge can be undone."""

    merge = models.ForeignKey(Merge, on_delete=models.PROTECT, related_name="lines")
    step = models.CharField(max_length=14, choices=MergeStep.choices)
    storeroom = models.ForeignKey(
        Storeroom, null=True, blank=True, on_delete=models.PROTECT, related_name="merge_lines"
    )
    condition = models.CharField(max_length=20, blank=True)
    quantity = models.PositiveIntegerField(default=0)
    record_id = models.BigIntegerField(null=True, blank=True, help_text=_("The record that was changed."))
    transfer = models.UUIDField(
        null=True, blank=True, help_text=_("Of stock: the pair of movements that moved it.")
    )
    before = models.JSONField(default=dict, blank=True)
    after = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["merge_id", "id"]
        constraints = [one_of("merge_line", "step", MergeStep, optional=False)]

    def __str__(self) -> str:
        return f"{self.step} of merge {self.merge}"
