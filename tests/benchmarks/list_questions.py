"""The questions that a list documents: its orders, its deepest pages, its filters alone and together."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from functools import cache
from itertools import pairwise
from typing import Any

from django.core.exceptions import FieldDoesNotExist
from django.db.models import Count, Max, Min
from django.http import HttpRequest
from rest_framework.request import Request

from api.edge.filtering import DayFilter, MomentFilter, NumberFilter, TruthFilter, WordsFilter
from api.edge.list_parts import order_keys
from api.edge.pagination import Cursor, encode
from api.wire.declaration import WireRecord
from api.wire.views import field_at, view_of
from inventory.models import Storeroom

BEFORE_THE_END = 60
"""The deepest full page begins so many rows before the end."""
SAMPLED = 2_000
NOWHERE = "NO-SUCH-1"
Query = dict[str, str]


def rows_of(record: WireRecord) -> Any:
    request = Request(HttpRequest())
    return view_of(record)(action="list", kwargs={}, request=request).get_queryset()


def orders(record: WireRecord) -> Iterator[str]:
    for name in view_of(record).ordering_fields or ():
        yield from (name, f"-{name}")


def deepest(record: WireRecord, order: str | None) -> Iterator[tuple[str, Query]]:
    """The last page, and the last one of the rows that have a value where it can be missing."""
    view, rows = view_of(record), rows_of(record)
    asked = [order] if order else view.ordering
    paths = view.ordering_fields if order else {}
    keys = order_keys(
        rows, [(paths.get(name := one.removeprefix("-"), name), one.startswith("-")) for one in asked]
    )
    parts = {"": rows} | ({"known ": rows.filter(keys[0].is_known(True))} if keys[0].nullable else {})
    for what, part in parts.items():
        backward = part.order_by(*(key.order(True) for key in keys)).values_list(*(key.path for key in keys))
        row = next(iter(backward[BEFORE_THE_END : BEFORE_THE_END + 1]), None)
        if row is not None:
            name = ",".join(f"{'-' * key.descending}{key.path}" for key in keys)
            query = {"cursor": encode(Cursor(name, False, list(row)))}
            yield (
                f"last {what}page by {order or 'its own order'}",
                query | ({"ordering": order} if order else {}),
            )


def alone(record: WireRecord) -> dict[str, dict[str, str]]:
    """Of each filter a value that many rows have, one that few have and one that none has."""
    view = view_of(record)
    filters = view.filterset_class.base_filters if view.filterset_class else {}
    return {name: values_of(record, one) for name, one in filters.items()}


def together(values: dict[str, dict[str, str]]) -> Iterator[Query]:
    """Each filter with the next one: the common values of both, and the common one of the first with the rare one."""
    names = list(values)
    for first, second in pairwise(names):
        for kind in ("common", "rare"):
            if "common" in values[first] and kind in values[second]:
                yield {first: values[first]["common"], second: values[second][kind]}


def values_of(record: WireRecord, one: Any) -> dict[str, str]:
    if isinstance(one, TruthFilter):
        return {"common": "true", "rare": "false"}
    if one.method:
        room = Storeroom.objects.order_by("pk").first()
        chosen = (one.extra.get("choices") or [room.code if room else NOWHERE])[0]
        return {"common": "2026-01-01T00:00:00Z" if isinstance(one, MomentFilter) else chosen}
    many, few, least, greatest = recorded(record, one.field_name)
    if isinstance(one, NumberFilter | MomentFilter | DayFilter):
        return in_text(one, spread(one.lookup_expr, many, few, least, greatest))
    others = set(map(str, one.extra.get("choices") or (NOWHERE,))) - {str(many), str(few)}
    none = min(others, default=None) if type(one) is WordsFilter else None
    return in_text(one, {"common": many, "rare": few, "none": none})


def spread(lookup: str, many: Any, few: Any, least: Any, greatest: Any) -> dict[str, Any]:
    if greatest is None:
        return {}
    step = timedelta(days=1) if isinstance(greatest, date) else 1
    return {
        "exact": {"common": many, "rare": few, "none": greatest + step},
        "gte": {"common": least, "rare": greatest, "none": greatest + step},
        "lte": {"common": greatest, "rare": least, "none": least - step},
    }[lookup]


def in_text(one: Any, values: dict[str, Any]) -> dict[str, str]:
    """As the query has them, without what the filter would refuse."""
    texts = {}
    for kind, value in values.items():
        span = one.extra.get("span")
        if value in (None, "") or (span and not span.low <= value <= span.high):
            continue
        if isinstance(value, datetime):
            texts[kind] = value.isoformat().replace("+00:00", "Z")
        else:
            texts[kind] = value.isoformat() if isinstance(value, date) else str(value)
    return texts


def recorded(record: WireRecord, path: str) -> tuple[Any, Any, Any, Any]:
    """The most and the least frequent value at a path, the least and the greatest."""
    try:
        field = field_at(record.model, path)
    except FieldDoesNotExist:
        rows = rows_of(record)
        found = sorted(value for value in rows.values_list(path, flat=True)[:SAMPLED] if value is not None)
        by_count = sorted(set(found), key=found.count) if found else [None]
        return by_count[-1], by_count[0], min(found, default=None), max(found, default=None)
    return in_column(
        field.model if not field.is_relation else field.related_model,
        field.name if not field.is_relation else "pk",
    )


@cache
def in_column(model: Any, column: str) -> tuple[Any, Any, Any, Any]:
    rows = model._base_manager.exclude(**{f"{column}__isnull": True})
    counted = rows.values(column).annotate(rows=Count("pk")).order_by()
    many, few = (
        counted.order_by(order).values_list(column, flat=True).first() for order in ("-rows", "rows")
    )
    field = model._meta.get_field(column) if column != "pk" else model._meta.pk
    if field.get_internal_type() in ("BooleanField", "CharField", "TextField"):
        return many, few, None, None
    ends = rows.aggregate(least=Min(column), greatest=Max(column))
    return many, few, ends["least"], ends["greatest"]
