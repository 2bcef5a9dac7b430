"""Tokens and answered keys in the admin: to be seen and revoked, never edited."""

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone

from api.access import Change
from api.models import AccessToken


@admin.register(AccessToken)
class AccessTokenAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    list_display = ["name", "role", "prefix", "created_at", "expires_at", "last_used_at", "revoked_at"]
    list_filter = ["role"]
    search_fields = ["name", "prefix"]
    fields = ["name", "role", "prefix", "user", "created_at", "expires_at", "last_used_at", "revoked_at"]
    actions = ["revoke"]

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: AccessToken | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: AccessToken | None = None) -> bool:
        return False

    def has_revoke_permission(self, request: HttpRequest) -> bool:
        return request.user.has_perm("api.change_accesstoken")

    @admin.action(description="Revoke the tokens chosen", permissions=["revoke"])
    def revoke(self, request: HttpRequest, queryset: QuerySet[AccessToken]) -> None:
        revoked = queryset.filter(revoked_at=None).update(revoked_at=timezone.now())
        self.message_user(request, f"{revoked} tokens revoked.")


class SeenOnly(admin.ModelAdmin):  # type: ignore[type-arg]
    """To look at: what stands here was written by the service itself."""

    show_full_result_count = False

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: object = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: object = None) -> bool:
        return False


@admin.register(Change)
class ChangeAdmin(SeenOnly):
    list_display = ["at", "by_name", "action", "record", "key"]
    list_filter = ["action", "record"]
    search_fields = ["key", "by_name", "request_id"]
