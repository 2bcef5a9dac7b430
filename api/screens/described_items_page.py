"""The administration page that shows what was read of items and writes it after a yes."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from django.contrib import admin, messages
from django.db.models import QuerySet
from django.http import HttpRequest
from django.template.response import TemplateResponse
from django.utils.translation import gettext, gettext_lazy, ngettext

from api.exchange.described_items import shown_digest, write_description
from api.wording.sentences import sentence
from inventory.catalogue.described_items import DescribedItem, describe
from inventory.models import Item, Specification

MOST_ITEMS = 200
"""On one page; more are read by the command."""


if TYPE_CHECKING:
    ItemPage = admin.ModelAdmin[Item]
else:
    ItemPage = object


class ReadsDescriptions(ItemPage):
    """Goes before the page of items."""

    actions = ("read_descriptions",)

    def has_describe_permission(self, request: HttpRequest) -> bool:
        return self.has_change_permission(request) and request.user.has_perms(
            ["inventory.add_specification", "inventory.change_specification"]
        )

    @admin.action(description=gettext_lazy("Read the descriptions"), permissions=["describe"])
    def read_descriptions(self, request: HttpRequest, queryset: QuerySet[Item]) -> TemplateResponse | None:
        chosen = list(
            Item.objects.with_specification()
            .filter(pk__in=queryset.values("pk"))
            .order_by("pk")[: MOST_ITEMS + 1]
        )
        if len(chosen) > MOST_ITEMS:
            text = gettext(
                "Choose at most {most} items here; the command read_descriptions reads any number."
            )
            self.message_user(request, text.format(most=MOST_ITEMS), messages.ERROR)
            return None
        described = [describe(item) for item in chosen]
        if "confirmed" not in request.POST:
            return self._proposal(request, described)
        if request.POST.get("shown") != shown_digest(described):
            self.message_user(
                request, gettext("A record changed in between: please look again."), messages.WARNING
            )
            return self._proposal(request, described)
        self._write(request, described)
        return None

    def _write(self, request: HttpRequest, described: Iterable[DescribedItem]) -> None:
        written = [write_description(one.item.pk) for one in described if one.can_be_written]
        count = sum(one.can_be_written for one in written)
        text = ngettext("{count} item filled.", "{count} items filled.", count)
        self.message_user(request, text.format(count=count))

    def _proposal(self, request: HttpRequest, described: list[DescribedItem]) -> TemplateResponse:
        fillable = sum(one.can_be_written for one in described)
        label = ngettext("Fill {count} item", "Fill {count} items", fillable).format(count=fillable)
        context = {
            **self.admin_site.each_context(request),
            "title": gettext("Read the descriptions"),
            "rows": [_row(one) for one in described],
            "shown": shown_digest(described),
            "fillable": fillable,
            "confirm_label": label,
            "opts": self.model._meta,
        }
        return TemplateResponse(request, "admin/read_descriptions.html", context)


def _row(described: DescribedItem) -> dict[str, Any]:
    fills = described.fills if described.can_be_written else {}
    remarks = [sentence(one) for one in described.reading.questions]
    if described.refusal is not None:
        remarks.append(sentence(described.refusal))
    return {
        "pk": described.item.pk,
        "stock_number": described.item.stock_number,
        "description": described.item.description,
        "fills": [
            {"name": _label(name), "value": found.value, "basis": found.basis, "text": found.text}
            for name, found in fills.items()
        ],
        "remarks": remarks,
    }


def _label(name: str) -> str:
    column = "chain_designation" if name == "chain" else name
    return str(Specification._meta.get_field(column).verbose_name)  # type: ignore[union-attr]
