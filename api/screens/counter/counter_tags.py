"""Template tags of the counter: who may book, the job in hand, what an act reports."""

from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

from django import template
from django.contrib.messages.storage.base import Message
from django.urls import reverse

from api.screens.counter.acts import UNDOING, may_book_of
from api.screens.counter.forms import IssueForm
from api.screens.counter.in_hand import CounterJob, job_in_hand

register = template.Library()


@register.simple_tag(takes_context=True)
def may_book(context: template.Context) -> bool:
    request = context.get("request")
    return request is not None and hasattr(request, "user") and may_book_of(request)


@register.simple_tag(takes_context=True)
def job(context: template.Context) -> CounterJob:
    return job_in_hand(context["request"])


@register.simple_tag(takes_context=True)
def act_address(context: template.Context, name: str, **asked: Any) -> str:
    """The page of an act, filled in, that comes back to this page."""
    said = {key: str(value) for key, value in asked.items() if value not in (None, "")}
    said["then"] = context["request"].get_full_path()
    return f"{reverse('screens:act', args=[name])}?{urlencode(said)}"


@register.simple_tag
def new_key() -> str:
    """For a form that is to take effect once, however often it is sent."""
    return str(uuid4())


@register.filter
def undo_act(message: Message) -> str:
    """The value that undoes what the message reports; empty where nothing can be undone."""
    found = message.extra_tags or ""
    return found if found.partition(":")[0] in UNDOING else ""


@register.simple_tag(takes_context=True)
def issue_form(context: template.Context, item: Any, **asked: Any) -> IssueForm:
    return IssueForm(None, item=item, asked=asked, job=job_in_hand(context["request"]))
