"""One form for each act of the counter: what it asks, the body of the request it sends, and the line that reports it."""

from collections.abc import Mapping
from typing import Any, ClassVar
from uuid import uuid4

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.edge.scope import visible_to_caller
from api.screens.counter.in_hand import CounterJob
from drives.models import Position
from drives.substitutes.fitting_verdict import LONGEST_REASON, NOT_SIMPLY_FITTED, FittingVerdict, verdict_at
from inventory.catalogue.stock_on_hand import ShelfStock, load_stock_of_items
from inventory.models import AVAILABLE_CONDITIONS, Condition, Item, ReasonCode, Storeroom
from inventory.models.fields import GREATEST_QUANTITY
from inventory.models.text_index import normal

LONGEST_NAME = 60
QUANTITY = gettext_lazy("Quantity")
ORDER = [
    "quantity",
    "counted",
    "shelf",
    "storeroom",
    "to_storeroom",
    "work_order",
    "position",
    "reason_code",
    "reason",
    "allowed_by",
]
SHELF_MEMBERS = {"storeroom": "shelf", "condition": "shelf"}


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
    return forms.ChoiceField(label=gettext_lazy("Why"), choices=[(one.value, one.label) for one in codes])


class ActForm(forms.Form):
    """`address` names the request that it sends; `undone_by` the request that undoes it."""

    title: ClassVar[Any]
    address: ClassVar[str] = "movement-list"
    undone_by: ClassVar[str] = "movement-reverse"
    kind: ClassVar[str] = ""
    conditions: ClassVar[tuple[Condition, ...]] = tuple(Condition)
    """Of the shelves that it may take from."""

    key = key_field()

    def __init__(
        self,
        given: QueryDict | None,
        *,
        item: Item | None,
        asked: Mapping[str, str] | None = None,
        job: CounterJob | None = None,
    ) -> None:
        self.item, self.asked = item, dict(asked or {})
        super().__init__(given, initial=self.asked, auto_id="act-%s", label_suffix="", field_order=ORDER)
        if job is not None and given is None:
            for name in {"position", "work_order"} & self.fields.keys():
                self.initial.setdefault(name, getattr(job, name))
        self.shelves: list[ShelfStock] = []
        if "shelf" in self.fields:
            self._offer_shelves()
        if "storeroom" in self.fields:
            self._offer_storerooms("storeroom")

    @property
    def said(self) -> dict[str, Any]:
        return {name: value for name, value in self.cleaned_data.items() if value not in (None, "", False)}

    def body(self) -> dict[str, Any]:
        """Members of the request, by the names that the form gives them."""
        said = self.said
        room, _slash, condition = said.pop("shelf", "").rpartition("/")
        said.pop("key", None)
        found = {"kind": self.kind, "storeroom": room, "condition": condition} | said
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
        alike = [] if exact else list(visible_to_caller(places.filter(tag__normal=normal(tag)))[:2])
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
        return shelf_key(self.shelves[0]) if self.shelves else ""

    @property
    def chosen_shelf(self) -> ShelfStock | None:
        chosen = self["shelf"].value() if self.shelves else None
        return next((one for one in self.shelves if shelf_key(one) == chosen), None)

    def _offer_shelves(self) -> None:
        assert self.item is not None
        known = load_stock_of_items([self.item.pk]).of_item(self.item.pk)
        self.shelves = [one for one in known if one.condition in self.conditions]
        near = self._storeroom_nearby()
        self.shelves.sort(key=lambda one: (one.available < 1, one.storeroom_id != near))
        choices = [(shelf_key(one), shelf_words(one)) for one in self.shelves]
        self.fields["shelf"] = forms.ChoiceField(label=_("Shelf"), choices=choices)
        asked = f"{self.asked.get('storeroom', '')}/{self.asked.get('condition', Condition.NEW)}"
        if asked in dict(choices):
            self.initial["shelf"] = asked

    def _storeroom_nearby(self) -> int | None:
        """Of the plant where the part is needed."""
        tag = self["position"].value() if "position" in self.fields else ""
        place = self.place(str(tag or ""))
        return place.drive.equipment.area.plant.storeroom_id if place else None

    def _offer_storerooms(self, name: str) -> None:
        rooms = visible_to_caller(Storeroom.objects.order_by("code")).values_list("code", "name")
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(code, f"{code}, {title}") for code, title in rooms]


def shelf_key(shelf: ShelfStock) -> str:
    return f"{shelf.storeroom}/{shelf.condition}"


def shelf_words(shelf: ShelfStock) -> str:
    place = f"{shelf.storeroom}, {shelf.bin}" if shelf.bin else shelf.storeroom
    return _("{place}, {condition}: {available} available of {on_hand}").format(
        place=place,
        condition=Condition(shelf.condition).label,
        available=shelf.available,
        on_hand=shelf.on_hand,
    )


class JudgedForm(ActForm):
    """What leaves for a position is judged there first; what does not simply fit needs a reason and a name."""

    reason = words_field(gettext_lazy("Why it is taken all the same"), LONGEST_REASON - LONGEST_NAME - 20)
    allowed_by = words_field(gettext_lazy("Who allows it"))
    verdict = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        tag = str(self["position"].value() or "")
        self.judged: FittingVerdict | None = verdict_at(self.place(tag), item=self.item) if tag else None
        self.is_doubtful = self.judged is not None and self.judged.grade in NOT_SIMPLY_FITTED
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
            found["reason"] = _("{reason} (allowed by {name})").format(reason=found["reason"], name=name)
        if self.judged is None:
            found.pop("verdict", None)
        return found


class IssueForm(JudgedForm):
    title, kind = gettext_lazy("Issue"), "issue"
    conditions = AVAILABLE_CONDITIONS

    quantity = quantity_field(initial=1)
    work_order = words_field(gettext_lazy("Work order"))
    position = words_field(gettext_lazy("Position"))
    shelf = forms.ChoiceField()
    expected_back_on = forms.DateField(
        label=gettext_lazy("Expected back on, if it is lent"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    override = words_field(gettext_lazy("Why other work has to wait"), 200)
    join_pieces = forms.BooleanField(label=gettext_lazy("Join pieces of chain"), required=False)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for name in ("override", "join_pieces"):
            if not self[name].value():
                del self.fields[name]

    def body(self) -> dict[str, Any]:
        found = super().body()
        if "override" in found:
            found["override"] = {"reason": found["override"]}
        if day := found.get("expected_back_on"):
            found["expected_back_on"] = day.isoformat()
        return found

    def done(self, answer: Mapping[str, Any]) -> str:
        return _("Issued {quantity} × {item} from {shelf}{purpose}.").format(
            **line_values(self, answer), purpose=purpose_of(self.said)
        )


class FoundForm(JudgedForm):
    title, address = gettext_lazy("Found more than booked"), "movement-found"
    conditions = AVAILABLE_CONDITIONS

    quantity = quantity_field(gettext_lazy("Taken"), initial=1)
    counted = quantity_field(
        gettext_lazy("All that lay there"),
        0,
        required=False,
        help_text=gettext_lazy("With what you take. Empty: only what you take is known."),
    )
    work_order = words_field(gettext_lazy("Work order"))
    position = words_field(gettext_lazy("Position"))
    shelf = forms.ChoiceField()

    def done(self, answer: Mapping[str, Any]) -> str:
        return _("Counted and issued {quantity} × {item} from {shelf}{purpose}.").format(
            **line_values(self, answer), purpose=purpose_of(self.said)
        )


class ReserveForm(ActForm):
    title, address = gettext_lazy("Reserve"), "reservation-list"
    undone_by = "reservation-release"
    conditions = AVAILABLE_CONDITIONS

    quantity = quantity_field(initial=1)
    work_order = words_field(gettext_lazy("Work order"), required=True)
    shelf = forms.ChoiceField()

    def done(self, answer: Mapping[str, Any]) -> str:
        return _("Reserved {quantity} × {item} in {shelf} for {work_order}.").format(
            **line_values(self, answer), work_order=answer["work_order"]
        )


class ReturnForm(ActForm):
    title, kind = gettext_lazy("Return"), "return"

    quantity = quantity_field(initial=1)
    reason_code = reason_field(
        ReasonCode.NOT_NEEDED,
        ReasonCode.DID_NOT_FIT,
        ReasonCode.WRONG_ITEM,
        ReasonCode.DEFECTIVE,
        ReasonCode.WORN,
    )
    work_order = words_field(gettext_lazy("Work order"))
    position = words_field(gettext_lazy("Position"))
    storeroom = forms.ChoiceField(label=gettext_lazy("Storeroom"))
    bin = words_field(gettext_lazy("Bin"), 30)

    def done(self, answer: Mapping[str, Any]) -> str:
        values = line_values(self, answer)
        if answer["reason_code"] == ReasonCode.WORN:
            return _("{quantity} × {item} came back worn and left the books.").format(**values)
        if answer["condition"] == Condition.ON_HOLD:
            return _("{quantity} × {item} came back and is on hold in {shelf}.").format(**values)
        return _("{quantity} × {item} came back to {shelf}.").format(**values)


class CountForm(ActForm):
    title, kind = gettext_lazy("Count"), "count"

    counted = quantity_field(gettext_lazy("Pieces that lie there"), 0)
    shelf = forms.ChoiceField()

    def body(self) -> dict[str, Any]:
        shelf = self.chosen_shelf
        return super().body() | ({"seen": shelf.on_hand} if shelf else {})

    def done(self, answer: Mapping[str, Any]) -> str:
        return _("Counted {counted} × {item} in {shelf}: {change} against the book.").format(
            **line_values(self, answer), counted=answer["counted"], change=format(answer["change"], "+d")
        )


class NotThereForm(ActForm):
    title, address = gettext_lazy("Not there"), "movement-not-there"

    work_order = words_field(gettext_lazy("Work order"))
    position = words_field(gettext_lazy("Position"))
    shelf = forms.ChoiceField()

    def done(self, answer: Mapping[str, Any]) -> str:
        return _("{item} is not in {shelf}: counted 0, and on the list of counts.").format(
            **line_values(self, answer)
        )


class TransferForm(ActForm):
    title, kind = gettext_lazy("Transfer"), "transfer"

    quantity = quantity_field(initial=1)
    to_storeroom = forms.ChoiceField(label=gettext_lazy("To storeroom"))
    to_condition = forms.ChoiceField(
        label=gettext_lazy("As"),
        choices=[("", gettext_lazy("as it is")), *Condition.choices],
        required=False,
    )
    bin = words_field(gettext_lazy("Bin there"), 30)
    reason = words_field(gettext_lazy("Reason"), 200)
    shelf = forms.ChoiceField()

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self._offer_storerooms("to_storeroom")

    def done(self, answer: Mapping[str, Any]) -> str:
        return _("Moved {quantity} × {item} from {shelf} to {to_storeroom}.").format(
            **line_values(self, answer), to_storeroom=answer["to_storeroom"]
        )


class ReceiveForm(ActForm):
    title, kind = gettext_lazy("Receive"), "receipt"

    quantity = quantity_field()
    storeroom = forms.ChoiceField(label=gettext_lazy("Storeroom"))
    bin = words_field(gettext_lazy("Bin"), 30)
    reason = words_field(gettext_lazy("Where it comes from"), 200, required=True)

    def done(self, answer: Mapping[str, Any]) -> str:
        return _("Received {quantity} × {item} in {shelf}.").format(**line_values(self, answer))


class ScrapForm(ActForm):
    title, kind = gettext_lazy("Scrap"), "scrap"

    quantity = quantity_field(initial=1)
    reason_code = reason_field(ReasonCode.DEFECTIVE, ReasonCode.WRITTEN_OFF, ReasonCode.SURPLUS)
    reason = words_field(gettext_lazy("Reason"), 200, required=True)
    shelf = forms.ChoiceField()

    def done(self, answer: Mapping[str, Any]) -> str:
        return _("Scrapped {quantity} × {item} from {shelf}.").format(**line_values(self, answer))


class AskForm(ActForm):
    """Wanted, and not to be had: demand all the same."""

    title, address = gettext_lazy("Record as asked for, not filled"), "request-list"
    undone_by = "request-retract"

    quantity = quantity_field(initial=1)
    work_order = words_field(gettext_lazy("Work order"))
    position = words_field(gettext_lazy("Position"))
    storeroom = forms.ChoiceField(label=gettext_lazy("Storeroom"))
    note = words_field(gettext_lazy("Note"), 200)

    def body(self) -> dict[str, Any]:
        return super().body() | {"result": "not_filled"}

    def done(self, answer: Mapping[str, Any]) -> str:
        return _("Recorded: {quantity} × {item} asked for and not filled.").format(
            quantity=answer["quantity"], item=answer["item"] or answer["position"]
        )


def line_values(form: ActForm, answer: Mapping[str, Any]) -> dict[str, Any]:
    shelf = form.chosen_shelf
    place = answer["storeroom"]
    if shelf is not None and shelf.bin:
        place = f"{place}, {shelf.bin}"
    return {"quantity": answer.get("quantity", 0), "item": answer["item"], "shelf": place}


def purpose_of(said: Mapping[str, Any]) -> str:
    """“ for LW-KLN-EL1 (WO 4711)”, as far as it was said."""
    place, job = said.get("position", ""), said.get("work_order", "")
    if place and job:
        return _(" for {position}, work order {work_order}").format(position=place, work_order=job)
    if place:
        return _(" for {position}").format(position=place)
    return _(" for work order {work_order}").format(work_order=job) if job else ""


ACTS: dict[str, type[ActForm]] = {
    "issue": IssueForm,
    "reserve": ReserveForm,
    "return": ReturnForm,
    "count": CountForm,
    "not-there": NotThereForm,
    "found": FoundForm,
    "transfer": TransferForm,
    "receive": ReceiveForm,
    "scrap": ScrapForm,
    "ask": AskForm,
}
