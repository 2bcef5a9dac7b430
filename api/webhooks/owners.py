"""The owner of a webhook: it gets what its owner may read at the moment, and nothing once the owner has no access."""

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework.request import Request

from api.edge.auth import roles_of
from api.edge.scope import scope_of_owner, visible_to_caller
from api.models import AccessToken, Role, Webhook
from inventory.models import Event
from inventory.models.access_scope import EVERYTHING, AccessScope, current_scope, scoped_to

ROLES = frozenset({Role.MANAGER.value, Role.INTEGRATION.value})


def owner_of(request: Request) -> dict[str, object]:
    token = request.auth
    return {"owner_token": token} if isinstance(token, AccessToken) else {"owner_user": request.user}


def webhooks_of(request: Request) -> QuerySet[Webhook]:
    """Webhooks of the caller; all of them for a manager without limits, who may read every event anyway."""
    rows = Webhook.objects.select_related("owner_user", "owner_token")
    if Role.MANAGER in roles_of(request) and current_scope().is_whole:
        return rows
    return rows.filter(**owner_of(request))


def has_access(webhook: Webhook) -> bool:
    """Whether the owner could still log in and subscribe."""
    token, user = webhook.owner_token, webhook.owner_user
    if token is not None:
        alive = token.expires_at is None or token.expires_at > timezone.now()
        person_in = token.user is None or token.user.is_active
        return alive and token.revoked_at is None and person_in and token.role in ROLES
    if user is None or not user.is_active:
        return False
    return user.is_superuser or user.groups.filter(name__in=ROLES).exists()


def scope_of_webhook(webhook: Webhook) -> AccessScope:
    found = EVERYTHING
    token = webhook.owner_token
    for owner in (token, token.user if token is not None else None, webhook.owner_user):
        if owner is not None:
            found = found.intersect(scope_of_owner(owner))
    return found


def readable(webhook: Webhook, events: QuerySet[Event]) -> QuerySet[Event]:
    seen = scope_of_webhook(webhook)
    with scoped_to(lambda: seen):
        return visible_to_caller(events)
