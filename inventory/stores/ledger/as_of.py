"""Stock at a moment in the past, by what was booked by then."""

from datetime import datetime
from typing import Any

from django.db.models import IntegerField, QuerySet, Subquery

from inventory.models import StockEntry
from inventory.stores.ledger.replay import SAME_PLACE


def with_balance_as_of(levels: QuerySet[Any], moment: datetime) -> QuerySet[Any]:
    """The levels with an entry by then, with `held` (its balance) and `last_entry`.

    An entry counts from `recorded_at`: a movement that is booked late does not change the book of the days before.
    """
    by_then = StockEntry.objects.filter(**SAME_PLACE, recorded_at__lte=moment).order_by("-pk")
    rows: QuerySet[Any] = levels.annotate(
        held=Subquery(by_then.values("balance_after")[:1], output_field=IntegerField()),
        last_entry=Subquery(by_then.values("pk")[:1]),
    )
    return rows.filter(last_entry__isnull=False)
