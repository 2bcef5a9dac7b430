"""Who calls and what they may: bearer tokens for machines, sessions for the pages, roles for both."""

import logging
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.contrib.auth import get_user_model
from django.contrib.auth.backends import ModelBackend
from django.db import InternalError, OperationalError, transaction
from django.http import HttpRequest
from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from api.models import AccessToken, Role, digest
from inventory.plumbing.prepared import PreparedQuery

logger = logging.getLogger(__name__)

ROLES = frozenset(Role.values)
STOCK_ROLES = ("storeroom", "manager", "integration")
API_ROOT = "/api/v1/"
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
# Noting each use would put a write behind every read.
USE_NOTED_EVERY = timedelta(minutes=1)
# Read in every request, never remembered: a token that is revoked is refused from the next request on, by every process.
TOKEN = PreparedQuery(lambda: AccessToken.objects.select_related("reach", "user__reach"), "digest")


@dataclass(frozen=True)
class TokenCaller:
    """Stands as `request.user` for a token that belongs to no user."""

    token: AccessToken
    is_authenticated: bool = True
    is_anonymous: bool = False
    is_active: bool = True
    is_staff: bool = False
    is_superuser: bool = False
    pk: None = None
    id: None = None

    def get_username(self) -> str:
        return self.token.name

    def __str__(self) -> str:
        return self.token.name


class TokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer TOKEN`."""

    def authenticate(self, request: Request) -> tuple[Any, AccessToken] | None:
        parts = get_authorization_header(request).split()
        if not parts or parts[0].lower() != b"bearer":
            return None
        if len(parts) != 2:
            raise AuthenticationFailed("The Authorization header must be: Bearer TOKEN.")
        secret = parts[1].decode("ascii", "replace")
        token = TOKEN.first(digest(secret))
        if (
            token is None
            or not token.is_usable(timezone.now())
            or (token.user is not None and not token.user.is_active)
        ):
            raise AuthenticationFailed("This token is unknown, expired or revoked.")
        note_use(token)
        return token.user or TokenCaller(token), token

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="api"'


def note_use(token: AccessToken) -> None:
    """A database that takes no changes just now still answers reads: then the next use is noted."""
    now = timezone.now()
    if token.last_used_at is not None and now - token.last_used_at <= USE_NOTED_EVERY:
        return
    try:
        with transaction.atomic():
            AccessToken.objects.filter(pk=token.pk).update(last_used_at=now)
    except (OperationalError, InternalError) as error:
        logger.warning("The use of token %s could not be noted: %s", token.pk, error)


def roles_of(request: HttpRequest | Request) -> frozenset[str]:
    """Roles of the caller: the token's, never more than its user has, or the groups of a session's user."""
    token = getattr(request, "auth", None)
    user = request.user
    if isinstance(token, AccessToken):
        own = frozenset({token.role})
        return own if token.user is None else own & roles_of_user(token.user)
    return roles_of_user(user) if user.is_authenticated else frozenset()


def roles_of_user(user: Any) -> frozenset[str]:
    if user.is_superuser:
        return ROLES
    known: frozenset[str] | None = getattr(user, "_roles", None)
    if known is None:
        known = frozenset(user.groups.values_list("name", flat=True)) & ROLES
        user._roles = known
    return known


def caller_id(request: HttpRequest | Request) -> str:
    """Identifies a caller for idempotency keys and rate limits."""
    token = getattr(request, "auth", None)
    if isinstance(token, AccessToken):
        return f"token:{token.pk}"
    if request.user.is_authenticated:
        return f"user:{request.user.pk}"
    return f"address:{request.META.get('REMOTE_ADDR', '')}"


def caller_name(request: HttpRequest | Request) -> str:
    """The name written beside an entry as who made it."""
    token = getattr(request, "auth", None)
    return token.name if isinstance(token, AccessToken) else request.user.get_username()


class PlantBackend(ModelBackend):
    """A session's user comes with what limits it, in one query."""

    def get_user(self, user_id: int) -> Any:
        user = get_user_model()._default_manager.select_related("reach").filter(pk=user_id).first()
        return user if user is not None and self.user_can_authenticate(user) else None


class RolePermission(BasePermission):
    """`read_roles` and `write_roles` of a view, or `action_roles` for single actions; None: any caller known."""

    message = "The role of these credentials does not allow it."

    def has_permission(self, request: Request, view: Any) -> bool:
        if not request.user or not request.user.is_authenticated:
            return False
        handler = getattr(view, (request.method or "").lower(), None)
        if handler is None:
            return True  # The view answers 405, which says more than 403.
        if not in_scope(request):
            return False
        allowed = allowed_roles(request, view)
        return allowed is None or bool(roles_of(request) & frozenset(allowed))


def in_scope(request: Request) -> bool:
    """Whether the scopes of a token (`movements:write`, `*:read`) allow this request; without scopes, all are allowed."""
    token = request.auth
    if not isinstance(token, AccessToken) or not token.scopes:
        return True
    resource = request.path_info.removeprefix(API_ROOT).partition("/")[0]
    act = "read" if request.method in SAFE_METHODS else "write"
    wanted = {f"{name}:{act}" for name in (resource, "*")}
    if act == "read":
        wanted |= {f"{name}:write" for name in (resource, "*")}
    return not wanted.isdisjoint(token.scopes)


def allowed_roles(request: Request, view: Any) -> Collection[str] | None:
    by_action: Mapping[str, Collection[str] | None] = getattr(view, "action_roles", {})
    action = str(getattr(view, "action", ""))
    if action in by_action:
        return by_action[action]
    if request.method in SAFE_METHODS:
        return getattr(view, "read_roles", None)
    return getattr(view, "write_roles", (Role.MANAGER,))
