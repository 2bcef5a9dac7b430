"""Groups of duplicates as the last search left them."""

from django.db.models import Count, IntegerField, OuterRef, QuerySet, Subquery

from inventory.models import DuplicateGroup, DuplicateMember, Item


def open_groups() -> QuerySet[DuplicateGroup]:
    """Those of which two numbers are still to be merged."""
    left = DuplicateMember.objects.filter(group=OuterRef("pk"), item__merged_into__isnull=True).order_by()
    number = left.values("group").annotate(number=Count("pk")).values("number")
    return DuplicateGroup.objects.annotate(open_numbers=Subquery(number, output_field=IntegerField())).filter(
        open_numbers__gte=2
    )


def is_in_open_group(item: Item) -> bool:
    return open_groups().filter(members__item=item).exists()
