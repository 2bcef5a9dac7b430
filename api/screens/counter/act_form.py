"""What every act of the counter asks alike: how many, from which shelf, for what; and what a verdict adds to it."""

from collections.abc import Mapping
from typing import Any, ClassVar
from uuid import uuid4

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.edge.scope import visible_to_caller
from api.screens.counter.in_hand import CounterJob
from api.screens.counter.shelf_choices import ShelfChoice, shelf_by_key, shelves_of_item
from api.wire.recorded_verdicts import LONGEST_QUOTE
from api.wording.recorded_reasons import ALLOWED_BY
from drives.models import Position
from drives.substitutes.fitting_verdict import LONGEST_REASON, NOT_SIMPLY_FITTED, FittingVerdict, verdict_at
from inventory.models import Condition, Item, ReasonCode, StockLevel, Storeroom
from inventory.models.fields import GREATEST_QUANTITY
from inventory.models.item import Unit
from inventory.models.text_index import normal, normal_forms

LONGEST_NAME = 60
MOST_IN_SIGHT = 4
"""Storerooms that are chosen from by one tap; more are a list to open."""
QUANTITY = gettext_lazy("Quantity")
ORDER = [
    "quantity",
    "counted",
    "piece_links",
    "reason_code",
    "shelf",
    "to_storeroom",
    "storeroom",
    "work_order",
    "position",
    "reason",
    "allowed_by",
]
SHELF_MEMBERS = {"storeroom": "shelf", "condition": "shelf", "piece": "shelf"}


def key_field() -> forms.CharField:
    return forms.CharField(widget=forms.HiddenInput, max_length=255, initial=lambda: str(uuid4()))


def quantity_field(label: Any = QUANTITY, least: int = 1, **more: Any) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        min_value=least,
        max_value=GREATEST_QUANTITY,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        **more,
    )


def words_field(label: Any, longest: int = LONGEST_NAME, *, required: bool = False) -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=longest,
        required=required,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


def reason_field(*codes: ReasonCode) -> forms.ChoiceField:
    """All in sight: one tap, or the arrow keys."""
    return forms.ChoiceField(
        label=gettext_lazy("Why"),
        choices=[(one.value, one.label) for one in codes],
        initial=codes[0].value,
        widget=forms.RadioSelect,
    )


class ActForm(forms.Form):
    """`address` names the request that it sends; `undone_by` the request that undoes it."""

    title: ClassVar[Any]
    address: ClassVar[str] = "movement-list"
    undone_by: ClassVar[str] = "movement-reverse"
    kind: ClassVar[str] = ""
    conditions: ClassVar[tuple[Condition, ...]] = tuple(Condition)
    """Of the shelves that it may take from."""
    with_empty: ClassVar[bool] = False
    """Whether it may be about a shelf on which the book has nothing."""

    key = key_field()

    def __init__(
        self,
        given: QueryDict | None,
        *,
        item: Item | None,
        asked: Mapping[str, str] | None = None,
        job: CounterJob | None = None,
    ) -> None:
        self.item, self.asked, self.job = item, dict(asked or {}), job or CounterJob()
        super().__init__(
            given, initial=dict(self.asked), auto_id="act-%s", label_suffix="", field_order=ORDER
        )
        if job is not None and given is None:
            for name in {"position", "work_order"} & self.fields.keys():
                self.initial.setdefault(name, getattr(job, name))
        self.shelves: list[ShelfChoice] = []
        if item is not None and item.unit == Unit.LINK and "quantity" in self.fields:
            self.fields["quantity"].label = _("Links")
        if "shelf" in self.fields:
            self._offer_shelves()
        if "storeroom" in self.fields:
            self._offer_storerooms("storeroom")

    @property
    def to_be_filled(self) -> str:
        """The first field that has to be filled in before it can be sent; empty where one press of the button is enough."""
        return next((one.name for one in self.visible_fields() if one.field.required and not one.value()), "")

    @property
    def said(self) -> dict[str, Any]:
        """What was filled in: 0 pieces were counted too."""
        given = self.cleaned_data.items()
        return {name: value for name, value in given if value not in (None, "") and value is not False}

    def body(self) -> dict[str, Any]:
        """Members of the request, by the names that the form gives them."""
        said = self.said
        room, condition, piece = (*said.pop("shelf", "").split("/"), "", "")[:3]
        said.pop("key", None)
        found = {"kind": self.kind, "storeroom": room, "condition": condition} | said
        if piece:
            found["piece"] = int(piece)
        if self.item is not None:
            found["item"] = self.item.stock_number
        if position := found.get("position"):
            # Scanned or typed, it is found in any case; what is not found is refused by its own name.
            found["position"] = getattr(self.place(position), "tag", position)
        return {name: value for name, value in found.items() if value != ""}

    def done(self, answer: Mapping[str, Any]) -> str:
        raise NotImplementedError

    def place(self, tag: str) -> Position | None:
        """By its tag however it is spaced, from the index of such forms; none where two are called alike."""
        if not normal(tag) or "\x00" in tag:
            return None
        places = Position.objects.select_related("drive__equipment__area__plant")
        exact = visible_to_caller(places.filter(tag=tag)).first()
        alike = [] if exact else list(visible_to_caller(places.filter(tag__normal__in=normal_forms(tag)))[:2])
        return exact or (alike[0] if len(alike) == 1 else None)

    def take_refusal(self, problem: Mapping[str, Any]) -> None:
        """Each sentence at its field; what belongs to none stands above the form."""
        rows = problem.get("errors") or [{"pointer": "", "detail": problem.get("detail", "")}]
        for row in rows:
            name = row["pointer"].strip("/").partition("/")[0]
            name = name if name in self.fields else SHELF_MEMBERS.get(name, "")
            self.add_error(name if name in self.fields else None, row["detail"])

    @property
    def first_shelf(self) -> str:
        """Where it is best taken from: available, and near the place."""
        return self.shelves[0].key if self.shelves else ""

    @property
    def chosen_shelf(self) -> ShelfChoice | None:
        chosen = self["shelf"].value() if self.shelves else None
        return next((one for one in self.shelves if one.key == chosen), None)

    def _offer_shelves(self) -> None:
        assert self.item is not None
        near = self._storeroom_nearby()
        self.shelves = shelves_of_item(self.item, self.conditions, near, with_empty=self.with_empty)
        sent = self.data.get("shelf", "")
        if sent and sent not in {one.key for one in self.shelves}:
            # Emptied since the form was shown, perhaps by its own first sending: the API says what became of it.
            self.shelves += shelf_by_key(self.item, self.conditions, sent)
        choices = [(one.key, one.words) for one in self.shelves]
        self.fields["shelf"] = forms.ChoiceField(label=_("Shelf"), choices=choices)
        asked = [self.asked.get("storeroom", ""), self.asked.get("condition", Condition.NEW)]
        keys = ["/".join([*asked, self.asked.get("piece", "")]), "/".join(asked)]
        self.initial["shelf"] = next((key for key in keys if key in dict(choices)), self.first_shelf)

    def _storeroom_nearby(self) -> int | None:
        """Of the plant where the part is needed: the position that is asked for, or of the job in hand."""
        tag = self["position"].value() if "position" in self.fields else self.job.position
        place = self.place(str(tag or ""))
        return place.drive.equipment.area.plant.storeroom_id if place else None

    def _offer_storerooms(self, name: str) -> None:
        """Where the part is needed or lies is chosen beforehand; nothing is, where neither says it."""
        rooms = list(visible_to_caller(Storeroom.objects.order_by("code")).values_list("pk", "code", "name"))
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        choices = [(code, f"{code}, {title}") for _pk, code, title in rooms]
        if len(rooms) <= MOST_IN_SIGHT:
            field.widget = forms.RadioSelect()
            field.choices = choices
        else:
            field.choices = [("", _("choose")), *choices]
        if len(rooms) == 1:
            self.initial.setdefault(name, rooms[0][1])
        near = self._storeroom_nearby() or self._only_storeroom()
        self.initial.setdefault(name, next((code for pk, code, _title in rooms if pk == near), ""))

    def _only_storeroom(self) -> int | None:
        """The one in which it lies, where there is one."""
        shelves = shelves_of_item(self.item, tuple(Condition), None) if self.item else []
        rooms = {one.shelf.storeroom_id for one in shelves}
        return rooms.pop() if len(rooms) == 1 else None


class JudgedForm(ActForm):
    """What leaves for a position is judged there first; what does not simply fit needs a reason and a name."""

    reason = words_field(gettext_lazy("Why it is taken all the same"), LONGEST_REASON - LONGEST_NAME - 20)
    allowed_by = words_field(gettext_lazy("Who allows it"))
    verdict = forms.CharField(max_length=LONGEST_QUOTE, required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        tag = str(self["position"].value() or "")
        self.judged: FittingVerdict | None = verdict_at(self.place(tag), item=self.item) if tag else None
        self.is_doubtful = self.judged is not None and self.judged.grade in NOT_SIMPLY_FITTED
        if self.is_doubtful:
            self.order_fields(["reason", "allowed_by", *ORDER])
        for name in ("reason", "allowed_by"):
            if self.is_doubtful:
                self.fields[name].required = True
            else:
                del self.fields[name]
        if self.judged is not None:
            self.initial["verdict"] = self.judged.quote

    def body(self) -> dict[str, Any]:
        found = super().body()
        if name := found.pop("allowed_by", ""):
            found["reason"] = ALLOWED_BY.format(why=found["reason"], name=name)
        if self.judged is None:
            found.pop("verdict", None)
        return found


def line_values(form: ActForm, answer: Mapping[str, Any]) -> dict[str, Any]:
    chosen, place = form.chosen_shelf, answer["storeroom"]
    bin_code = chosen.shelf.bin if chosen is not None else _bin_of(answer)
    shelf = f"{place}, {bin_code}" if bin_code else place
    return {"quantity": answer.get("quantity", 0), "item": answer["item"], "shelf": shelf}


def _bin_of(answer: Mapping[str, Any]) -> str | None:
    """Where what came in has to be put."""
    shelf = {"item__stock_number": answer["item"], "storeroom__code": answer["storeroom"]}
    levels = StockLevel.objects.filter(**shelf, condition=answer.get("condition", ""))
    return levels.values_list("bin__code", flat=True).first()


def purpose_of(said: Mapping[str, Any]) -> str:
    """“ for LW-KLN-EL1 (WO 4711)”, as far as it was said."""
    place, job = said.get("position", ""), said.get("work_order", "")
    if place and job:
        return _(" for {position}, work order {work_order}").format(position=place, work_order=job)
    if place:
        return _(" for {position}").format(position=place)
    return _(" for work order {work_order}").format(work_order=job) if job else ""
