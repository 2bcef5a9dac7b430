"""An act of a page: its form is carried out once, says what it did, and comes back as it was typed where it is refused.

A page calls `carry_out` with what it does, and goes to the address of what was done where `is_done`; each form has `{% act_key %}`.
"""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import NamedTuple
from urllib.parse import urlencode

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import HttpRequest, QueryDict
from django.utils.translation import gettext as _
from rest_framework.exceptions import PermissionDenied as OutsideScope

from api.edge.auth import caller_id
from api.models import IdempotencyRecord
from api.screens.reports import report
from api.wording.sentences import sentence
from inventory.facts import Refusal


class Done(NamedTuple):
    """The sentence that says what was done, and what undoes it: the name of a request and its records, empty where none does."""

    said: str
    undone_by: str = ""


PageAct = Callable[[HttpRequest, QueryDict], Done]
"""Raises a Refusal or ActRefused, and has done nothing then."""


Fault = tuple[str, str]
"""The id of a field, empty where no field is at fault, and the sentence."""


class ActRefused(Exception):  # noqa: N818
    """The form says too little, in a sentence."""

    status = 409

    @property
    def faults(self) -> tuple[Fault, ...]:
        return (("", str(self)),)


class FieldsRefused(ActRefused):
    """Each of these fields says too little."""

    status = 400

    def __init__(self, *faults: Fault) -> None:
        super().__init__(" ".join(sentence for _field, sentence in faults))
        self._faults = faults

    @property
    def faults(self) -> tuple[Fault, ...]:
        return self._faults


@dataclass(frozen=True)
class SentForm:
    """What was sent, and why nothing was done; empty where the page was only opened."""

    form: QueryDict = field(default_factory=QueryDict)
    faults: tuple[Fault, ...] = ()
    is_done: bool = False
    status: int = 200
    """Of the page that shows the form: what was refused did not take effect."""

    @property
    def fault(self) -> str:
        return " ".join(sentence for _field, sentence in self.faults)

    @property
    def at_fields(self) -> dict[str, str]:
        """By field, for the list of faults and for the field itself."""
        return {name: sentence for name, sentence in self.faults if name}


def carry_out(request: HttpRequest, act: PageAct, *, is_allowed: bool) -> SentForm:
    if request.method != "POST":
        return SentForm()
    if not is_allowed:
        raise PermissionDenied
    sent = SentForm(request.POST)
    try:
        carry_out_once(request, act)
    except Refusal as refused:
        return replace(sent, status=409, faults=((refused.field, sentence(refused.fact)),))
    except OutsideScope as outside:
        return replace(sent, status=409, faults=(("", str(outside.detail)),))
    except ActRefused as refused:
        return replace(sent, status=refused.status, faults=refused.faults)
    return replace(sent, is_done=True)


def carry_out_once(request: HttpRequest, act: PageAct) -> None:
    """Carry the form out and report it, or raise what the act raises; sent again, its report is that it was done already."""
    with transaction.atomic():
        done, is_repeat = _done_once(request, act)
    said = _("This was done already: {what}").format(what=done.said) if is_repeat else done.said
    report(request, said, done.undone_by, first_said=done.said)


def number_of(text: str) -> int:
    """An id or a count as it was typed; 0 where it is none."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 18 else 0


def _done_once(request: HttpRequest, act: PageAct) -> tuple[Done, bool]:
    """A form of one showing of its page is carried out once; sent again, it is told what the first did. Both are one transaction."""
    if not request.POST.get("key"):
        return act(request, request.POST), False
    values = sorted((name, texts) for name, texts in request.POST.lists() if name != "csrfmiddlewaretoken")
    digest = hashlib.sha256(urlencode(values, doseq=True).encode()).hexdigest()
    done = {"state": IdempotencyRecord.State.DONE, "status": 302, "body_digest": digest}
    record, is_new = IdempotencyRecord.objects.get_or_create(
        caller=caller_id(request),
        key=f"page:{digest}",
        defaults={**done, "operation": f"POST {request.path}"[:500]},
    )
    if not is_new:
        said, _line, undone_by = record.body.partition("\n")
        return Done(said, undone_by), True
    told = act(request, request.POST)
    record.body = "\n".join(told)
    record.save(update_fields=["body"])
    return told, False
