"""The sections of a reader, and what a plant without records begins with."""

from collections.abc import Iterable

from django.http import HttpRequest
from django.utils import timezone

from api.screens.counter.acts import may_book_of
from api.screens.planning.planning_tags import may_decide_of
from api.screens.today.counter_sections import counter_sections
from api.screens.today.expiring_tokens import expiring_tokens
from api.screens.today.lines import Section
from api.screens.today.office_sections import office_sections


def todays_sections(request: HttpRequest) -> list[Section]:
    """Those with something in them: of the office for who decides, of the counter for who books, tokens for all."""
    today = timezone.localdate()
    found: Iterable[Section] = ()
    if may_decide_of(request):
        found = office_sections(today)
    elif may_book_of(request):
        found = counter_sections(today)
    return [section for section in (*found, expiring_tokens(request.user)) if section.count]
