"""The acts of the counter: what each asks, the body of the request it sends, and the line that reports it."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.screens.counter.act_form import (
    ActForm,
    JudgedForm,
    line_values,
    purpose_of,
    quantity_field,
    reason_field,
    words_field,
)
from inventory.interchange.vocabulary import Aspect, Outcome
from inventory.models import AVAILABLE_CONDITIONS, Condition, ReasonCode
from inventory.models.item import Unit

PIECE_LINKS = gettext_lazy("Links of each piece, where there are several: 120, 110")
LONGEST_PIECE_LINKS = 100
OF_THE_CHAIN = frozenset({Aspect.CHAIN, Aspect.STRANDS})


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
        if self.item is not None and self.item.unit == Unit.LINK and "quantity" not in self.asked:
            self.initial["quantity"] = self._links_there()

    def _links_there(self) -> int | None:
        """Of the chain of the drive, where it is that chain: how much of another one is wanted is never taken for granted."""
        judged = self.judged
        is_same = judged is not None and all(
            one.outcome is Outcome.OK for one in judged.verdict.checks if one.aspect in OF_THE_CHAIN
        )
        return judged.position.drive.links if judged and is_same else None

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
    with_empty = True

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


def links_of(text: str) -> list[int]:
    """Of each piece of chain, as they were typed; ValueError says what is expected."""
    parts = text.replace(",", " ").replace(";", " ").split()
    if not all(part.isascii() and part.isdigit() and len(part) < 10 for part in parts):
        raise ValueError(_("Links of each piece: give whole numbers, such as 120, 110."))
    return [int(part) for part in parts]


class IncomingForm(ActForm):
    """Of chain, in what lengths it comes: without them it is one piece."""

    piece_links = words_field(PIECE_LINKS, LONGEST_PIECE_LINKS)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        if self.item is None or self.item.unit != Unit.LINK:
            del self.fields["piece_links"]

    def clean_piece_links(self) -> list[int]:
        try:
            return links_of(self.cleaned_data["piece_links"])
        except ValueError as fault:
            raise forms.ValidationError(str(fault)) from fault

    def body(self) -> dict[str, Any]:
        return {name: value for name, value in super().body().items() if value != []}


class ReturnForm(IncomingForm):
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
    with_empty = True

    counted = quantity_field(gettext_lazy("Pieces that lie there"), 0)
    shelf = forms.ChoiceField()

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        if self.item is not None and self.item.unit == Unit.LINK:
            self.fields["counted"].label = _("Links that lie there")

    def done(self, answer: Mapping[str, Any]) -> str:
        values = {**line_values(self, answer), "counted": answer["counted"]}
        if not answer["change"]:
            return _("Counted {counted} × {item} in {shelf}: as booked.").format(**values)
        return _("Counted {counted} × {item} in {shelf}: {change} against the book.").format(
            **values, change=format(answer["change"], "+d")
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
        # The one in which it lies is not where it goes, unless only its condition changes: it is the last to choose.
        self.initial["to_storeroom"] = self.asked.get("to_storeroom", "")
        field, here = self.fields["to_storeroom"], str(self.initial["shelf"]).partition("/")[0]
        field.choices = sorted(field.choices, key=lambda one: one[0] == here)  # type: ignore[attr-defined]

    def done(self, answer: Mapping[str, Any]) -> str:
        return _("Moved {quantity} × {item} from {shelf} to {to_storeroom}.").format(
            **line_values(self, answer), to_storeroom=answer["to_storeroom"]
        )


class ReceiveForm(IncomingForm):
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
