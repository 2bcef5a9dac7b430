"""Tokens that end soon: for their owner, and for administrators those of everybody."""

from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.models import AccessToken
from api.screens.account.tokens import tokens_of
from api.screens.today.lines import Line, Section, day_of, section_of, words


def expiring_tokens(user: Any) -> Section:
    """The one that ends first comes first."""
    found = list(tokens_of(user).expiring().order_by("expires_at", "pk"))
    return section_of(gettext_lazy("Tokens that expire soon"), found, _token, reverse("screens:tokens"))


def _token(token: AccessToken) -> Line:
    address = reverse("screens:tokens")
    expires = _("expires on {day}").format(day=day_of(timezone.localdate(token.expires_at)))
    return Line(
        token.name, address, words(expires, token.get_role_display(), token.user), _("Replace"), address
    )
