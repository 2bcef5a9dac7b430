"""Approve a unit in use for a time, or for a longer one, by the request of the API."""

from datetime import date
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from django import forms
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from api.edge.auth import caller_name
from api.edge.scope import visible_to_caller
from api.screens.counter.act_form import key_field, words_field
from api.screens.counter.acts import then_of
from api.screens.own_api import send
from api.screens.planning.planning_tags import may_decide_of
from api.screens.reports import report
from api.wire.recorded_checks import with_explanation
from drives.models import Installation, RecordedVerdict
from drives.substitutes.fitting_verdict import NOT_SIMPLY_FITTED
from inventory.interchange.vocabulary import Grade

LONGEST = 80


def day_field(label: Any) -> forms.CharField:
    """As it was typed: what no day is, the API says at its field."""
    day = forms.DateInput(attrs={"type": "date"})
    return forms.CharField(label=label, required=False, max_length=LONGEST, widget=day)


class ApprovalForm(forms.Form):
    key = key_field()
    approved_by = words_field(gettext_lazy("Approved by"), LONGEST)
    until_on = day_field(gettext_lazy("Last day"))
    inspect_by = day_field(gettext_lazy("Inspect by (may stay empty)"))
    reference = words_field(gettext_lazy("Reference (may stay empty)"), LONGEST)

    def body(self) -> dict[str, str]:
        return {name: text for name, text in self.cleaned_data.items() if text and name != "key"}

    def take_refusal(self, problem: dict[str, Any]) -> None:
        """Each sentence at its field; the form that was put right is another request."""
        for row in problem.get("errors") or [{"pointer": "", "detail": problem["detail"]}]:
            name = row["pointer"].strip("/")
            self.add_error(name if name in self.fields else None, row["detail"])
        self.data = {**self.data.dict(), "key": str(uuid4())}  # type: ignore[attr-defined]


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def approve(request: WSGIRequest, key: int) -> HttpResponse:
    rows = Installation.objects.select_related("position__drive__equipment__area__plant", "item")
    unit = get_object_or_404(visible_to_caller(rows), pk=key)
    plant = unit.position.drive.equipment.area.plant
    with timezone.override(ZoneInfo(plant.timezone)):
        return _page(request, unit)


def _page(request: WSGIRequest, unit: Installation) -> HttpResponse:
    place = reverse("screens:position", args=[unit.position.tag])
    then, may_approve = then_of(request.POST or request.GET, place), may_decide_of(request)
    form, status = _form_of(request, unit), 200
    if request.method == "POST":
        if not may_approve:
            raise PermissionDenied
        status = 400
        if form.is_valid():
            answer = send(
                request, "installation-approvals", form.body(), form.cleaned_data["key"], pk=unit.pk
            )
            if answer.is_done:
                day = date_format(date.fromisoformat(answer.body["until_on"]))
                report(
                    request, _("Approved for {place} until {day}.").format(place=unit.position.tag, day=day)
                )
                return redirect(then)
            form.take_refusal(answer.body)
            status = answer.status
    verdict = RecordedVerdict.objects.filter(installation=unit).first()
    grade = Grade(verdict.grade) if verdict else None
    context = {
        "unit": unit,
        "form": form,
        "then": then,
        "may_approve": may_approve and unit.removed_at is None,
        "differences": list(dict.fromkeys(_words(one) for one in map(with_explanation, unit.differences))),
        "grade": grade,
        "is_doubtful": grade in NOT_SIMPLY_FITTED,
        "plant": unit.position.drive.equipment.area.plant,
        "approvals": unit.approvals.order_by("-pk"),
    }
    return render(request, "screens/approve.html", context, status=status)


def _form_of(request: WSGIRequest, unit: Installation) -> ApprovalForm:
    """For as long as the fitter named, where nobody has approved it yet."""
    asked = unit.temporary_until if unit.awaits_approval else None
    initial = {"approved_by": caller_name(request), "until_on": asked and asked.isoformat()}
    return ApprovalForm(request.POST or None, initial=initial, auto_id="approve-%s", label_suffix="")


def _words(difference: Any) -> str:
    """A check with its sentence, or the plain text of a person."""
    return str(difference.get("explanation", "") if isinstance(difference, dict) else difference)
