"""What has to be checked: shelves to count, and parts that did not fit although the records say so."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import GREATEST_QUANTITY, Stamped, at_most, check, one_of, unique
from inventory.models.item import Item
from inventory.models.places import Storeroom
from inventory.models.stock import Condition, StockEntry
from inventory.models.text_index import TextIndex


class CountCause(models.TextChoices):
    VALUE = "value", _("costly if wrong")
    ZERO = "zero", _("book shows none")
    FOUND = "found", _("found, not in the book")
    NOT_THERE = "not_there", _("in the book, not found")
    ASKED = "asked", _("requested by a person")


class CountState(models.TextChoices):
    OPEN = "open", _("open")
    COUNTED = "counted", _("counted")
    DROPPED = "dropped", _("dropped")


class CountTaskQuerySet(models.QuerySet["CountTask"]):
    def open(self) -> "CountTaskQuerySet":
        return self.filter(state=CountState.OPEN)


class CountTask(Stamped):
    """One shelf to count; `booked` is the book quantity at the count, and is hidden before it."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="count_tasks")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="count_tasks")
    condition = models.CharField(max_length=20, choices=Condition.choices, default=Condition.NEW)
    cause = models.CharField(max_length=10, choices=CountCause.choices)
    due_on = models.DateField()
    worth = models.FloatField(
        default=0, help_text=_("Expected cost of a wrong record; the highest is counted first.")
    )
    state = models.CharField(max_length=10, choices=CountState.choices, default=CountState.OPEN)
    assigned_to = models.CharField(max_length=150, blank=True)
    booked = models.PositiveIntegerField(null=True, blank=True)
    counted = models.PositiveIntegerField(null=True, blank=True)
    counted_at = models.DateTimeField(null=True, blank=True)
    measured = models.JSONField(
        default=dict,
        blank=True,
        help_text=_("Attributes that were measured at the count and written, each with its value and basis."),
    )
    counted_by_name = models.CharField(max_length=150, blank=True)
    entry = models.OneToOneField(
        StockEntry, null=True, blank=True, on_delete=models.PROTECT, related_name="count_task"
    )
    note = models.CharField(max_length=200, blank=True)

    objects = CountTaskQuerySet.as_manager()

    class Meta:
        ordering = ["due_on", "-worth", "id"]
        indexes = [TextIndex(fields=["note"], name="count_task_text")]
        constraints = [
            one_of("count_task", "condition", Condition, optional=False),
            one_of("count_task", "cause", CountCause, optional=False),
            one_of("count_task", "state", CountState, optional=False),
            at_most("count_task", "counted", GREATEST_QUANTITY),
            unique(
                "one_open_count_per_shelf",
                ["item", "storeroom", "condition"],
                _("This shelf is on the count list already."),
                condition=Q(state="open"),
            ),
            check(
                "counted_task_says_what_was_found",
                ~Q(state="counted") | Q(counted__isnull=False, booked__isnull=False),
                _("A finished count needs the counted and the booked quantity."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item}, {self.storeroom}"

    @property
    def variance(self) -> int | None:
        """Counted less booked; None before the count."""
        return None if self.counted is None or self.booked is None else self.counted - self.booked


class FitQuestion(Stamped):
    """A part was returned because it did not fit, so a record is wrong; a measurement answers which."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="fit_questions")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="fit_questions")
    entry = models.OneToOneField(StockEntry, on_delete=models.PROTECT, related_name="fit_question")
    issue = models.ForeignKey(
        StockEntry,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="misfits",
        help_text=_("The issue of the part, as far as the return tells which."),
    )
    position = models.CharField(max_length=60, blank=True)
    work_order = models.CharField(max_length=60, blank=True)
    aspect = models.CharField(
        max_length=20, blank=True, help_text=_("What is doubted, as the verdict calls it; empty: not known.")
    )
    measure = models.CharField(
        max_length=300, blank=True, help_text=_("A sentence, for questions from before measure_fact.")
    )
    measure_fact = models.JSONField(
        default=dict, blank=True, help_text=_("Code and values of the measurement that would settle it.")
    )
    verdict = models.JSONField(
        default=dict, blank=True, help_text=_("The verdict of the records on this part at this position.")
    )
    answer = models.CharField(max_length=300, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by_name = models.CharField(max_length=150, blank=True)

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["item"], condition=Q(answered_at__isnull=True), name="fit_question_open"),
            TextIndex(fields=["position", "work_order", "measure", "answer"], name="fit_question_text"),
        ]
        constraints = [
            check(
                "fit_question_answer_said",
                Q(answered_at__isnull=True) | ~Q(answer=""),
                _("Say what was found: give answer."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.item} {self.position}".strip()


class Lease(models.Model):
    """The process that runs a task which only one may run; it must renew the lease or loses it."""

    name = models.CharField(max_length=60, unique=True)
    holder = models.CharField(max_length=120)
    until = models.DateTimeField()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return f"{self.name}: {self.holder}"
