"""What was answered about the files and messages of a source."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import Stamped, one_of


class AnswerAbout(models.TextChoices):
    HEADING = "heading", _("the column that a heading means")
    READING = "reading", _("how the cells under a heading are meant")
    WORD = "word", _("the word that a cell means")
    MISSING = "missing", _("the text of a column that no heading gives")
    ZONE = "zone", _("the time zone of its times")
    ROWS_AT = "rows_at", _("where the records stand in a document")
    OMITTED = "omitted", _("what it means when a record is not in the list any more")


class SourceAnswer(Stamped):
    """What the headings, codes and times of a source mean: answered once, and used for every file and message of it."""

    source = models.CharField(max_length=40, help_text="The list or the system that it comes from.")
    kind = models.CharField(max_length=20, help_text="What its rows are.")
    about = models.CharField(max_length=10, choices=AnswerAbout.choices)
    name = models.CharField(
        max_length=200,
        blank=True,
        help_text="The heading or the column; for a word column:word, such as kind:REP.",
    )
    answer = models.CharField(
        max_length=200, blank=True, help_text="Empty: the heading is left out, or the cell is empty."
    )

    class Meta:
        ordering = ["source", "kind", "about", "name"]
        constraints = [
            models.UniqueConstraint(
                fields=["source", "kind", "about", "name"],
                name="source_answer_once",
                violation_error_message=_("This is answered for the source already."),
            ),
            one_of("source_answer", "about", AnswerAbout, optional=False),
        ]

    def __str__(self) -> str:
        return f"{self.source} {self.kind} {self.key}"

    @property
    def key(self) -> str:
        """The key of the question."""
        return f"{self.about}:{self.name}" if self.name else self.about
