"""Days and moments in a sentence: in the one style of the reader's language, moments in the time of the page."""

from datetime import date, datetime

from django.utils import formats, timezone

ENDS = ("_on", "_at")
NAMES = frozenset(
    (
        "as_of",
        "from_day",
        "last_day",
        "needed_by",
        "order_by",
        "since",
        "today",
        "until",
        "valid_from",
        "valid_until",
    )
)


def names_day(name: str) -> bool:
    """Whether a value of a fact is a day or a moment, by its name."""
    return name.endswith(ENDS) or name in NAMES


def day_text(written: str) -> str:
    """As it is read, of a day or a moment as facts hold it; any other text as it is.

    >>> day_text("2026-11-12"), day_text("next week")
    ('12 Nov 2026', 'next week')
    """
    try:
        return formats.date_format(date.fromisoformat(written), "DATE_FORMAT")
    except ValueError:
        pass
    try:
        moment = datetime.fromisoformat(written)
    except ValueError:
        return written
    local = timezone.localtime(moment) if timezone.is_aware(moment) else moment
    return formats.date_format(local, "DATETIME_FORMAT")
