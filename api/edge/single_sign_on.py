"""Logging in with an account of the company: by OpenID Connect, or by a header that a trusted proxy sets.

Both find the user by name and take the roles from what they are told, where a claim or header of roles is named. Neither lets
anybody in as an administrator: who may do everything logs in with a password of this service.
"""

from collections.abc import Iterable
from typing import Any

from django.conf import settings
from django.contrib import auth
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponseBase
from mozilla_django_oidc.auth import OIDCAuthenticationBackend

from api.edge.auth import ROLES, PlantBackend
from api.edge.change_log import RecordChange, values_of, write_changes
from api.edge.middleware import Middleware

AUTHOR = "single sign-on"
OWN_BACKEND = "api.edge.auth.PlantBackend"


class CompanyBackend(OIDCAuthenticationBackend):  # type: ignore[misc]
    """A user of this service for whom the provider vouches."""

    def filter_users_by_claims(self, claims: dict[str, Any]) -> QuerySet[Any]:
        return usable(claims.get(settings.OIDC_NAME_CLAIM) or "")

    def verify_claims(self, claims: dict[str, Any]) -> bool:
        name = claims.get(settings.OIDC_NAME_CLAIM)
        is_named = isinstance(name, str) and 0 < len(name) <= 150
        return is_named and not administrators().filter(username=name).exists()

    def create_user(self, claims: dict[str, Any]) -> Any:
        return self.update_user(
            make_user(claims[settings.OIDC_NAME_CLAIM], claims.get("email") or ""), claims
        )

    def update_user(self, user: Any, claims: dict[str, Any]) -> Any:
        if settings.OIDC_ROLES_CLAIM:
            said = claims.get(settings.OIDC_ROLES_CLAIM) or []
            give_roles(user, [said] if isinstance(said, str) else said)
        return user

    def get_user(self, user_id: int) -> Any:
        return PlantBackend().get_user(user_id)


class TrustedUserMiddleware(Middleware):
    """`TRUSTED_USER_HEADER` names who has logged in at the proxy; from anywhere else it is not believed."""

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        name = request.headers.get(settings.TRUSTED_USER_HEADER, "") if request.is_from_proxy else ""  # type: ignore[attr-defined]
        if name and request.user.get_username() != name:
            user = usable(name).first() or (make_user(name) if not known(name) else None)
            if user is not None:
                auth.login(request, user, backend=OWN_BACKEND)
                request.user = user
        if name and settings.TRUSTED_ROLES_HEADER and request.user.get_username() == name:
            said = request.headers.get(settings.TRUSTED_ROLES_HEADER, "")
            give_roles(request.user, [one.strip() for one in said.split(",")])
        return self.get_response(request)


def administrators() -> QuerySet[Any]:
    return get_user_model().objects.filter(is_superuser=True)


def known(name: str) -> bool:
    return get_user_model().objects.filter(username=name).exists()


def usable(name: str) -> QuerySet[Any]:
    return get_user_model().objects.filter(username=name, is_active=True, is_superuser=False)


def make_user(name: str, email: str = "") -> Any:
    with transaction.atomic():
        user = get_user_model().objects.create_user(username=name, email=email)
        write_changes(type(user), [RecordChange(user.pk, None, values_of(user))], by=AUTHOR)
    return user


def give_roles(user: Any, said: Iterable[str]) -> None:
    """Groups that are roles become what is said; others stay."""
    wanted = ROLES.intersection(said)
    own = frozenset(user.groups.values_list("name", flat=True)) & ROLES
    if wanted == own:
        return
    with transaction.atomic():
        before = values_of(user) | {"groups": sorted(own)}
        user.groups.remove(*Group.objects.filter(name__in=own - wanted))
        user.groups.add(*(Group.objects.get_or_create(name=name)[0] for name in sorted(wanted - own)))
        after = values_of(user) | {"groups": sorted(wanted)}
        write_changes(type(user), [RecordChange(user.pk, before, after)], by=AUTHOR)
    user._roles = wanted
