"""What a change of a number, a specification or its attributes touches: shown in the administration before it is saved."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.contrib import admin
from django.contrib.admin.utils import unquote
from django.db.models import Q, QuerySet, Sum
from django.http import HttpRequest, HttpResponse
from django.template.response import TemplateResponse
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from drives.models import Cover, Installation, Position
from inventory.models import Item, Specification, StockLevel, StockPolicy, SupplyOrder

if TYPE_CHECKING:
    AnyPage = admin.ModelAdmin[Any]
else:
    AnyPage = object

Change = tuple[str, Any, Any]
"""What is changed, as it stands, and as it is to be."""
MOST_NAMED = 8
CONFIRMED = "confirmed"


@dataclass(frozen=True)
class Touched:
    """How many of a kind, the first of them by name."""

    words: str
    count: int
    names: tuple[str, ...] = ()
    is_named: bool = False
    """Each by its name, rather than where they are."""

    @property
    def has_more(self) -> bool:
        return self.is_named and self.count > len(self.names)


def touched_by(items: QuerySet[Item], specification: Specification | None) -> Iterator[Touched]:
    """What stands on these items; of a specification also what is fitted without a stock number."""
    yield named(
        _("Items of this part"), items.order_by("stock_number").values_list("stock_number", flat=True)
    )
    stock = StockLevel.objects.filter(item__in=items, on_hand__gt=0)
    rooms = stock.order_by("storeroom__code").values_list("storeroom__code", flat=True).distinct()
    pieces = stock.aggregate(pieces=Sum("on_hand"))["pieces"] or 0
    yield Touched(_("Pieces on hand"), pieces, tuple(rooms[:MOST_NAMED]) if pieces else ())
    orders = SupplyOrder.objects.filter(item__in=items, status="open")
    yield Touched(_("Open supply orders"), orders.count())
    yield Touched(_("Stock policies"), StockPolicy.objects.filter(item__in=items).count())
    is_fitted = Q(item__in=items) | Q(specification=specification) if specification else Q(item__in=items)
    fitted = Position.objects.filter(
        pk__in=Installation.objects.still_fitted().filter(is_fitted).values("position")
    )
    tags = fitted.order_by("tag").values_list("tag", flat=True)
    yield named(_("Positions where it is fitted"), tags)
    served = Cover.objects.filter(item__in=items).order_by("position__tag")
    yield named(
        _("Positions that it could serve, judged again"),
        served.values_list("position__tag", flat=True).distinct(),
    )


def named(words: str, names: QuerySet[Any]) -> Touched:
    return Touched(words, names.count(), tuple(names[:MOST_NAMED]), is_named=True)


class ShowsWhatChanges(AnyPage):
    """Goes before the page of a record whose change reaches other records."""

    watched: frozenset[str] | None = None
    """None: every field."""
    not_watched: frozenset[str] = frozenset()

    def touched(self, record: Any) -> Iterator[Touched]:
        raise NotImplementedError

    def changeform_view(
        self,
        request: HttpRequest,
        object_id: str | None = None,
        form_url: str = "",
        extra_context: Any = None,
    ) -> HttpResponse:
        is_asked = request.method == "POST" and object_id is not None and CONFIRMED not in request.POST
        if is_asked and (preview := self._preview(request, str(object_id))):
            return preview
        return super().changeform_view(request, object_id, form_url, extra_context)

    def _preview(self, request: HttpRequest, key: str) -> HttpResponse | None:
        """Nothing where nobody may change it, a form is wrong, or the change touches nothing."""
        record = self.get_object(request, unquote(key))
        if record is None or not self.has_change_permission(request, record):
            return None
        standing = type(record)._base_manager.get(pk=record.pk)
        form = self.get_form(request, record, change=True)(request.POST, instance=record)
        if not form.is_valid():
            return None
        rows, _inlines = self._create_formsets(request, form.instance, change=True)  # type: ignore[attr-defined]
        if not all(one.is_valid() for one in rows):
            return None
        changes = [*self._changes(form), *(change for one in rows for change in self._changes_of_rows(one))]
        touched = [one for one in self.touched(standing) if one.count] if changes else []
        if not touched:
            return None
        context = {
            **self.admin_site.each_context(request),
            "title": _("What this change touches"),
            "opts": self.model._meta,
            "record": standing,
            "changes": changes,
            "touched": touched,
            "sent": [
                (name, value)
                for name, values in request.POST.lists()
                if name != "csrfmiddlewaretoken"
                for value in values
            ],
        }
        return TemplateResponse(request, "admin/what_changes.html", context)

    def _changes(self, form: Any, of: str = "") -> Iterator[Change]:
        """Of a form, its fields that changed; of a row under the record, with the name of the row."""
        for name in form.changed_data:
            if name in self.not_watched or (self.watched is not None and name not in self.watched):
                continue
            label = capfirst(str(form.fields[name].label))
            standing = form[name].initial
            shown = form.fields[name].to_python(standing) if standing not in (None, "") else standing
            yield (f"{of}: {label}" if of else label), shown, form.cleaned_data[name]

    def _changes_of_rows(self, rows: Any) -> Iterator[Change]:
        for row in rows.forms:
            if row in rows.deleted_forms:
                yield str(row.instance), _("as it is"), _("deleted")
            elif row.instance.pk is None and row.has_changed():
                yield capfirst(str(rows.model._meta.verbose_name)), None, str(row.instance)
            else:
                yield from self._changes(row, of=str(row.instance))


class ShowsWhatItemTouches(ShowsWhatChanges):
    watched = frozenset({"stock_number", "specification", "unit", "lifecycle", "replaced_by"})

    def touched(self, record: Item) -> Iterator[Touched]:
        yield from touched_by(Item.objects.filter(pk=record.pk), None)


class ShowsWhatPartTouches(ShowsWhatChanges):
    def touched(self, record: Specification) -> Iterator[Touched]:
        yield from touched_by(Item.objects.filter(specification=record), record)


SHOWN_BEFORE: dict[Any, type[ShowsWhatChanges]] = {
    Item: ShowsWhatItemTouches,
    Specification: ShowsWhatPartTouches,
}
