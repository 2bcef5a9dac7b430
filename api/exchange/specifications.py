"""Who else uses a specification."""

from collections.abc import Iterable

from django.db.models import Count, F

from drives.models import Installation
from inventory.models import Item


def shared_by_others(ids: Iterable[int]) -> set[int]:
    """Which of the specifications stand behind more than one item, or behind something fitted that is none of it."""
    asked = sorted(ids)
    if not asked:
        return set()
    counted = Item.objects.filter(specification__in=asked).order_by().values("specification")
    found = {row["specification"] for row in counted.annotate(users=Count("pk")) if row["users"] > 1}
    fitted = Installation.objects.filter(specification__in=asked).exclude(
        item__specification=F("specification"), item__isnull=False
    )
    found.update(pk for pk in fitted.values_list("specification", flat=True) if pk is not None)
    return found
