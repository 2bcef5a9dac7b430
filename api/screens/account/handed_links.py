"""On the page of users: a link to set a password, for who gets no mail. Whoever makes a user need not know their password."""

from typing import Any

from django.contrib import admin, messages
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.screens.account.passwords import link_to_set_password

AT_ONCE = 20


class HandsOutLinks:
    """Goes before the page of users, which shows administrators to administrators alone."""

    actions = ["hand_out_links"]

    @admin.action(description=gettext_lazy("Show links to set a password"), permissions=["change"])
    def hand_out_links(self, request: HttpRequest, queryset: QuerySet[Any]) -> None:
        for user in queryset.filter(is_active=True).order_by("username")[:AT_ONCE]:
            told = _("Link with which {name} sets a password, once, within a day: {link}")
            link = link_to_set_password(user, request)
            messages.success(request, told.format(name=user.get_username(), link=link))
