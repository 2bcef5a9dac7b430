"""What has to be looked at again: shelves to count, verdicts that a part did not bear out."""

from django.db import models
from django.db.models import Q

from inventory.models.fields import GREATEST_QUANTITY, Stamped, at_most, one_of
from inventory.models.item import Item
from inventory.models.places import Storeroom
from inventory.models.stock import Condition, StockEntry


class CountCause(models.TextChoices):
    VALUE = "value", "value of being wrong"
    ZERO = "zero", "the book says none"
    FOUND = "found", "found although the book said none"
    NOT_THERE = "not_there", "not there although the book said so"
    ASKED = "asked", "asked for by a person"


class CountState(models.TextChoices):
    OPEN = "open", "open"
    COUNTED = "counted", "counted"
    DROPPED = "dropped", "dropped"


class CountTaskQuerySet(models.QuerySet["CountTask"]):
    def open(self) -> "CountTaskQuerySet":
        return self.filter(state=CountState.OPEN)


class CountTask(Stamped):
    """One shelf to count, blind: `booked` is what the book said when it was counted, and is not shown before."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="count_tasks")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="count_tasks")
    condition = models.CharField(max_length=20, choices=Condition.choices, default=Condition.NEW)
    cause = models.CharField(max_length=10, choices=CountCause.choices)
    due_on = models.DateField()
    worth = models.FloatField(
        default=0, help_text="What being wrong here may cost; the dearest is counted first."
    )
    state = models.CharField(max_length=10, choices=CountState.choices, default=CountState.OPEN)
    assigned_to = models.CharField(max_length=150, blank=True)
    booked = models.PositiveIntegerField(null=True, blank=True)
    counted = models.PositiveIntegerField(null=True, blank=True)
    counted_at = models.DateTimeField(null=True, blank=True)
    counted_by_name = models.CharField(max_length=150, blank=True)
    entry = models.OneToOneField(
        StockEntry, null=True, blank=True, on_delete=models.PROTECT, related_name="count_task"
    )
    note = models.CharField(max_length=200, blank=True)

    objects = CountTaskQuerySet.as_manager()

    class Meta:
        ordering = ["due_on", "-worth", "id"]
        constraints = [
            one_of("count_task", "condition", Condition, optional=False),
            one_of("count_task", "cause", CountCause, optional=False),
            one_of("count_task", "state", CountState, optional=False),
            at_most("count_task", "counted", GREATEST_QUANTITY),
            models.UniqueConstraint(
                fields=["item", "storeroom", "condition"],
                condition=Q(state="open"),
                name="one_open_count_per_shelf",
                violation_error_message="This shelf is on the list of counts already.",
            ),
            models.CheckConstraint(
                condition=~Q(state="counted") | Q(counted__isnull=False, booked__isnull=False),
                name="counted_task_says_what_was_found",
                violation_error_message="A count that is done says what was found and what the book said.",
            ),
        ]

    def __str__(self) -> str:
        return f"count of {self.item_id} in {self.storeroom_id}"

    @property
    def variance(self) -> int | None:
        """Found less booked; None before it was counted."""
        return None if self.counted is None or self.booked is None else self.counted - self.booked


class FitQuestion(Stamped):
    """A part came back because it did not fit: something that was recorded is wrong, until a measurement settles it."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="fit_questions")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="fit_questions")
    entry = models.OneToOneField(StockEntry, on_delete=models.PROTECT, related_name="fit_question")
    position = models.CharField(max_length=60, blank=True)
    work_order = models.CharField(max_length=60, blank=True)
    measure = models.CharField(
        max_length=300, blank=True, help_text="A sentence, for questions from before measure_fact."
    )
    measure_fact = models.JSONField(
        default=dict, blank=True, help_text="Code and values of the measurement that would settle it."
    )
    verdict = models.JSONField(default=dict, blank=True, help_text="What the records say of this part there.")
    answer = models.CharField(max_length=300, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by_name = models.CharField(max_length=150, blank=True)

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["item"], condition=Q(answered_at__isnull=True), name="fit_question_open")
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(answered_at__isnull=True) | ~Q(answer=""),
                name="fit_question_answer_said",
                violation_error_message="Say what was found: give answer.",
            )
        ]

    def __str__(self) -> str:
        return f"did {self.item_id} fit at {self.position or 'its place'}?"


class Lease(models.Model):
    """Who runs a task that only one may run; a holder that gives no sign of life loses it."""

    name = models.CharField(max_length=60, unique=True)
    holder = models.CharField(max_length=120)
    until = models.DateTimeField()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return f"{self.name}: {self.holder}"
