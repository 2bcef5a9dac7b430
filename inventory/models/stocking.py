"""How many to keep: the policy in force, the runs that calculate recommendations, and what they recommend."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import (
    Stamped,
    at_most,
    check,
    currency,
    money,
    not_negative,
    one_of,
    orders,
    unique,
    within,
)
from inventory.models.item import Item
from inventory.models.places import Storeroom
from inventory.models.text_index import TextIndex

MOST_KEPT = 1_000_000
"""Distributions of demand are calculated no further."""

MOST_STAGING_DAYS = 60
"""Parts that lie ready for longer are back on the shelf by trade practice (no source)."""
MOST_CHAIN_JOINTS = 10
"""More joints than a chain of any drive here could have pieces: a larger number is a typing error."""


class TargetKind(models.TextChoices):
    FILL_RATE = "fill_rate", _("fill rate")
    CYCLE_SERVICE_LEVEL = "cycle_service_level", _("cycle service level")
    NO_BACKORDER = "no_backorder", _("no backorder")
    COST = "cost", _("least cost")


class Importance(models.TextChoices):
    """Of a part: the highest criticality among the drives that no other part can serve."""

    VITAL = "vital", _("vital")
    ESSENTIAL = "essential", _("essential")
    DESIRABLE = "desirable", _("desirable")
    UNKNOWN = "unknown", _("not known")


class ServiceTarget(Stamped):
    """The service target of a plant for parts of one importance."""

    importance = models.CharField(max_length=10, choices=Importance.choices, unique=True)
    kind = models.CharField(max_length=20, choices=TargetKind.choices, default=TargetKind.FILL_RATE)
    value = models.FloatField(help_text=_("Between 0 and 1; not used where the kind is least cost."))
    tolerable_wait_hours = models.FloatField(
        null=True,
        blank=True,
        help_text=_(
            "A stop this long is acceptable; empty: none is. Parts that an emergency order brings sooner need no stock."
        ),
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["importance"]
        constraints = [
            check(
                "service_target_between_0_and_1",
                Q(value__gt=0, value__lt=1),
                _("value must be greater than 0 and smaller than 1."),
            ),
            not_negative("service_target", "tolerable_wait_hours"),
            one_of("service_target", "kind", TargetKind, optional=False),
            one_of("service_target", "importance", Importance, optional=False),
        ]

    def __str__(self) -> str:
        return f"{self.importance}: {self.kind} {self.value:g}"


class StockingTerms(Stamped):
    """Prices and habits that stock is calculated with; one row, start values until the plant sets its own."""

    holding_rate_per_year = models.FloatField(
        default=0.2, help_text=_("Cost of holding a piece for a year, as a share of its price.")
    )
    order_cost = money(help_text=_("Of one order line; empty: not known, so every order is for one piece."))
    currency = currency()
    hours_to_expedite = models.FloatField(
        null=True,
        blank=True,
        help_text=_("From the stop to an emergency delivery; empty: from past emergency orders."),
    )
    planning_days = models.FloatField(
        default=7,
        help_text=_(
            "From seeing wear to sending the order; counts against the notice that inspections give."
        ),
    )
    staging_days = models.PositiveSmallIntegerField(
        default=1, help_text=_("Days before a job on which its parts are to be there.")
    )
    chain_joints = models.PositiveSmallIntegerField(
        default=0,
        help_text=_(
            "Joints allowed in one chain beside the one that closes it; 0: every chain is one piece."
        ),
    )
    worst_grade = models.CharField(
        max_length=12,
        choices=[("drop_in", _("drop-in")), ("with_work", _("with work"))],
        default="with_work",
        help_text=_("The worst grade at which another part counts as a substitute in stock."),
    )
    are_set = models.BooleanField(default=False, help_text=_("The plant has confirmed these values."))

    class Meta:
        verbose_name_plural = _("stocking terms")
        constraints = [
            check("stocking_terms_once", Q(id=1), _("There is one set of stocking terms: change that one.")),
            check(
                "stocking_terms_holding_rate_within_bounds",
                Q(holding_rate_per_year__gt=0, holding_rate_per_year__lte=10),
                _("holding_rate_per_year must be greater than 0 and at most 10."),
            ),
            not_negative("stocking_terms", "order_cost"),
            not_negative("stocking_terms", "hours_to_expedite"),
            not_negative("stocking_terms", "planning_days"),
            within("stocking_terms", "staging_days", 0, MOST_STAGING_DAYS),
            within("stocking_terms", "chain_joints", 0, MOST_CHAIN_JOINTS),
            check(
                "stocking_terms_worst_grade_known",
                Q(worst_grade__in=["drop_in", "with_work"]),
                _("worst_grade must be drop_in or with_work."),
            ),
        ]

    def __str__(self) -> str:
        return str(self._meta.verbose_name)


class Levels(models.Model):
    """Mixin: order up to `order_up_to` when on hand + on order - reserved is at or below `reorder_point`."""

    stocked = models.BooleanField(default=True)
    reorder_point = models.IntegerField(help_text=_("-1: ordered only when needed."))
    order_up_to = models.IntegerField()

    class Meta:
        abstract = True


def levels_in_order(prefix: str) -> list[models.CheckConstraint]:
    return [
        check(
            f"{prefix}_order_up_to_above_reorder_point",
            Q(reorder_point__gte=-1, order_up_to__gt=F("reorder_point"), order_up_to__gte=0),
            _("order_up_to must be above reorder_point, and reorder_point -1 or more."),
        ),
        at_most(prefix, "order_up_to", MOST_KEPT),
        check(
            f"{prefix}_not_stocked_means_none",
            Q(stocked=True, reorder_point__gte=0) | Q(stocked=False, reorder_point=-1, order_up_to=0),
            _("Not stocked means reorder_point -1 and order_up_to 0; stocked means reorder_point 0 or more."),
        ),
    ]


class StockPolicy(Levels, Stamped):
    """The levels in force for an item in a storeroom; set by a person, never by a run."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="policies")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="policies")
    reason = models.CharField(max_length=300, blank=True)
    review_on = models.DateField(null=True, blank=True)
    set_by_name = models.CharField(max_length=150, blank=True)

    class Meta:
        ordering = ["item_id", "storeroom_id"]
        verbose_name_plural = _("stock policies")
        indexes = [TextIndex(fields=["reason", "set_by_name"], name="stock_policy_text")]
        constraints = [
            unique(
                "stock_policy_once_per_place",
                ["item", "storeroom"],
                _("This item has a policy in that storeroom: change that one."),
            ),
            *levels_in_order("stock_policy"),
        ]

    def __str__(self) -> str:
        return f"{self.item}, {self.storeroom}: {self.reorder_point}/{self.order_up_to}"


class RunState(models.TextChoices):
    RUNNING = "running", _("running")
    DONE = "done", _("done")
    FAILED = "failed", _("failed")


class StockingRun(models.Model):
    """One calculation of all recommendations: its progress and its results."""

    state = models.CharField(max_length=10, choices=RunState.choices, default=RunState.RUNNING)
    as_of = models.DateTimeField(help_text=_("What happened later is not used."))
    is_full = models.BooleanField(default=False, help_text=_("Calculated again even where no input changed."))
    total = models.PositiveIntegerField(default=0)
    done = models.PositiveIntegerField(default=0)
    recomputed = models.PositiveIntegerField(default=0)
    changed = models.PositiveIntegerField(default=0)
    started_at = models.DateTimeField(auto_now_add=True)
    alive_at = models.DateTimeField(
        null=True, blank=True, help_text=_("The last sign of progress; empty: it has not started yet.")
    )
    finished_at = models.DateTimeField(null=True, blank=True)
    started_by_name = models.CharField(max_length=150, blank=True)
    error = models.TextField(blank=True)
    inputs_digest = models.CharField(
        max_length=64, blank=True, help_text=_("Of everything that it was made from; empty: not known.")
    )
    lent_times = models.JSONField(default=dict, help_text=_("What items without orders of their own borrow."))
    followed_until = models.DateTimeField(
        null=True, blank=True, help_text=_("Its results follow what was recorded until then.")
    )
    is_behind = models.BooleanField(
        default=False, help_text=_("Something was recorded since that waits for the next run.")
    )

    class Meta:
        ordering = ["-id"]
        constraints = [
            one_of("stocking_run", "state", RunState, optional=False),
            unique(
                "one_run_at_a_time",
                ["state"],
                _("Another run is in progress: wait until it ends."),
                condition=Q(state="running"),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.pk}: {self.get_state_display()}"


class RecommendationState(models.TextChoices):
    OPEN = "open", _("open")
    ACCEPTED = "accepted", _("accepted")
    AMENDED = "amended", _("amended")
    DECLINED = "declined", _("declined")
    SUPERSEDED = "superseded", _("superseded")


class RecommendationQuerySet(models.QuerySet["Recommendation"]):
    def current(self) -> "RecommendationQuerySet":
        """The newest of each item and storeroom."""
        return self.exclude(state=RecommendationState.SUPERSEDED)

    def waiting(self) -> "RecommendationQuerySet":
        """What a person should decide: it differs from the policy in force."""
        return self.filter(state=RecommendationState.OPEN, changed=True)

    def in_storeroom(self, code: str) -> "RecommendationQuerySet":
        return self.filter(storeroom__code=code)

    def with_places(self) -> "RecommendationQuerySet":
        return self.select_related("item__specification", "storeroom", "run")


class Recommendation(Levels, Stamped):
    """What a run would set, with its reasons and evidence; a person accepts, amends or declines it."""

    run = models.ForeignKey(StockingRun, on_delete=models.PROTECT, related_name="recommendations")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="recommendations")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="recommendations")
    state = models.CharField(
        max_length=10, choices=RecommendationState.choices, default=RecommendationState.OPEN
    )
    changed = models.BooleanField(default=True, help_text=_("It differs from the policy in force."))
    is_answered = models.BooleanField(
        default=True, help_text=_("False: data is missing; the explanation says which.")
    )
    review_after_days = models.PositiveSmallIntegerField(
        default=365, help_text=_("Days from the decision to its review.")
    )
    importance = models.CharField(max_length=10, choices=Importance.choices, default=Importance.UNKNOWN)
    model = models.CharField(max_length=20, help_text=_("Demand model."))
    target_kind = models.CharField(max_length=20, choices=TargetKind.choices)
    target_value = models.FloatField(null=True, blank=True)
    rate_per_year = models.FloatField(help_text=_("Unplanned demand a year, in pieces."))
    planned_per_year = models.FloatField(default=0, help_text=_("Planned demand a year, in pieces."))
    lead_time_days = models.FloatField(null=True, blank=True)
    lead_time_sd_days = models.FloatField(null=True, blank=True)
    expected_lead_time_demand = models.FloatField(null=True, blank=True)
    fill_rate = models.FloatField(null=True, blank=True)
    expected_stockouts_per_year = models.FloatField(null=True, blank=True)
    holding_cost_per_year = money()
    currency = currency()
    today = models.JSONField(
        default=dict,
        blank=True,
        help_text=_("The same figures for the policy in force; empty if there is none."),
    )
    explanation = models.JSONField(
        default=list, blank=True, help_text=_("Its reasons as facts, in order: code and values of each.")
    )
    evidence = models.JSONField(
        default=dict,
        blank=True,
        help_text=_("Events, lives, pool, lead times and cover that it is based on."),
    )
    since_last = models.JSONField(
        default=list, blank=True, help_text=_("What changed since the last one, as facts.")
    )
    inputs_hash = models.CharField(max_length=64)
    decided_by_name = models.CharField(max_length=150, blank=True)
    decided_at = models.DateTimeField(null=True, blank=True)
    decision_reason = models.CharField(max_length=300, blank=True)

    objects = RecommendationQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["item", "storeroom", "state"], name="recommendation_of_item"),
            models.Index(fields=["state", "changed"], name="recommendation_waiting"),
            *orders(
                "recommended",
                "rate_per_year expected_stockouts_per_year holding_cost_per_year created_at decided_at",
            ),
        ]
        constraints = [
            unique(
                "one_current_recommendation",
                ["item", "storeroom"],
                _("This item has a current recommendation in that storeroom."),
                condition=~Q(state="superseded"),
            ),
            *levels_in_order("recommendation"),
            one_of("recommendation", "state", RecommendationState, optional=False),
            one_of("recommendation", "importance", Importance, optional=False),
            one_of("recommendation", "target_kind", TargetKind, optional=False),
            check(
                "amending_or_declining_says_why",
                ~Q(state__in=["amended", "declined"]) | ~Q(decision_reason=""),
                _("Amending or declining needs a reason."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item}, {self.storeroom}: {self.reorder_point}/{self.order_up_to}"
