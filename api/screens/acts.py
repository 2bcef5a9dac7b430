"""An act of a page: its form is carried out once, says what it did, and comes back as it was typed where it is refused.

A page calls `carry_out` with what it does, and goes to the address of what was done where `is_done`; each form has `{% act_key %}`.
"""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from urllib.parse import urlencode

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import HttpRequest, QueryDict
from django.utils.translation import gettext as _
from rest_framework.exceptions import PermissionDenied as OutsideScope

from api.edge.auth import caller_id
from api.models import IdempotencyRecord
from api.wording.sentences import sentence
from inventory.facts import Refusal

PageAct = Callable[[HttpRequest, QueryDict], str]
"""Gives the sentence that says what was done; raises a Refusal or ActRefused, and has done nothing then."""


class ActRefused(Exception):  # noqa: N818
    """The form says too little, in a sentence."""


@dataclass(frozen=True)
class SentForm:
    """What was sent, and why nothing was done; empty where the page was only opened."""

    form: QueryDict = field(default_factory=QueryDict)
    fault: str = ""
    is_done: bool = False


def carry_out(request: HttpRequest, act: PageAct, *, is_allowed: bool) -> SentForm:
    if request.method != "POST":
        return SentForm()
    if not is_allowed:
        raise PermissionDenied
    sent = SentForm(request.POST)
    try:
        with transaction.atomic():
            said = act(request, request.POST) if _is_first(request) else _("This was done already.")
    except Refusal as refused:
        return replace(sent, fault=sentence(refused.fact))
    except OutsideScope as outside:
        return replace(sent, fault=str(outside.detail))
    except ActRefused as refused:
        return replace(sent, fault=str(refused))
    messages.success(request, said)
    return replace(sent, is_done=True)


def number_of(text: str) -> int:
    """An id or a count as it was typed; 0 where it is none."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 18 else 0


def _is_first(request: HttpRequest) -> bool:
    """Whether this form, of one showing of its page, was not carried out before; kept in the transaction of the act."""
    values = sorted((name, texts) for name, texts in request.POST.lists() if name != "csrfmiddlewaretoken")
    if not request.POST.get("key"):
        return True
    digest = hashlib.sha256(urlencode(values, doseq=True).encode()).hexdigest()
    done = {"state": IdempotencyRecord.State.DONE, "status": 302, "body_digest": digest}
    _record, is_new = IdempotencyRecord.objects.get_or_create(
        caller=caller_id(request),
        key=f"page:{digest}",
        defaults={**done, "operation": f"POST {request.path}"[:500]},
    )
    return is_new
