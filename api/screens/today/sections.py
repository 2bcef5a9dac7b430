"""The sections of a reader, and what a plant without records begins with."""

from django.http import HttpRequest
from django.utils import timezone

from api.edge.auth import roles_of
from api.models import Role
from api.screens.counter.acts import may_book_of
from api.screens.planning.planning_tags import may_decide_of
from api.screens.today.counter_sections import counter_sections
from api.screens.today.expiring_tokens import expiring_tokens
from api.screens.today.lines import Section
from api.screens.today.office_sections import office_sections


def todays_sections(request: HttpRequest) -> list[Section]:
    """Those with something in them: of the office for who decides, of the counter for who stands there, tokens for all."""
    today = timezone.localdate()
    decides = may_decide_of(request)
    found = list(office_sections(today)) if decides else []
    # A manager may book too, but the work of the counter is that of the storeroom.
    if Role.STOREROOM in roles_of(request) or (may_book_of(request) and not decides):
        known = {str(section.title) for section in found}
        found += [section for section in counter_sections(today) if str(section.title) not in known]
    return [section for section in (*found, expiring_tokens(request.user)) if section.count]
