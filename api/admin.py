"""Tokens, access limits and the change log in the admin."""

from django.contrib import admin
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from api.edge.change_log import logging_changes
from api.models import AccessToken, Change, LoginAttempt, Reach, SourceAnswer
from inventory.admin.pages import ReadOnlyAdmin, RecordAdmin


@admin.register(AccessToken)
class AccessTokenAdmin(ReadOnlyAdmin):
    """Seen and revoked, never edited: a token with other rights is another token."""

    list_display = ["name", "role", "prefix", "created_at", "expires_at", "last_used_at", "revoked_at"]
    list_filter = ["role"]
    search_fields = ["name", "prefix"]
    fields = [
        *("name", "role", "scopes", "prefix", "user"),
        *("created_at", "expires_at", "last_used_at", "revoked_at"),
    ]
    actions = ["revoke"]

    def has_revoke_permission(self, request: HttpRequest) -> bool:
        return request.user.has_perm("api.change_accesstoken")

    @admin.action(description=_("Revoke the tokens chosen"), permissions=["revoke"])
    def revoke(self, request: HttpRequest, queryset: QuerySet[AccessToken]) -> None:
        chosen = list(queryset.filter(revoked_at=None).values_list("pk", flat=True))
        with transaction.atomic(), logging_changes(AccessToken.objects.filter(pk__in=chosen)):
            AccessToken.objects.filter(pk__in=chosen).update(revoked_at=timezone.now())
        text = ngettext("{n} token revoked.", "{n} tokens revoked.", len(chosen))
        self.message_user(request, text.format(n=len(chosen)))


@admin.register(Reach)
class ReachAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    """Plants and storerooms that a user or a token may see. Without a row here there is no limit."""

    list_display = ["__str__"]
    list_select_related = ["user", "token"]
    autocomplete_fields = ["user", "token", "plants", "storerooms"]
    search_fields = ["user__username", "token__name"]


@admin.register(LoginAttempt)
class LoginAttemptAdmin(ReadOnlyAdmin):
    list_display = ["at", "username", "address", "succeeded"]
    list_filter = ["succeeded"]
    search_fields = ["username", "address"]


@admin.register(Change)
class ChangeAdmin(ReadOnlyAdmin):
    list_display = ["at", "by_name", "action", "record", "key", "storeroom", "plant"]
    list_filter = ["action", "record"]
    search_fields = ["key", "by_name", "request_id"]


@admin.register(SourceAnswer)
class SourceAnswerAdmin(RecordAdmin):
    list_display = ["source", "kind", "about", "name", "answer", "updated_at"]
    list_filter = ["source", "kind", "about"]
    search_fields = ["name", "answer"]
