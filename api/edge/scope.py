"""Rows visible to the current caller, by the scope that each record declares. Every view, reference and answer uses it."""

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, TypeVar

from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import ObjectDoesNotExist
from django.db.models import Model, QuerySet
from django.http import HttpRequest, HttpResponseBase
from rest_framework.exceptions import PermissionDenied
from rest_framework.request import Request as ApiRequest

from api.edge.caller import Caller, caller_set
from api.edge.declarations import find_declaration
from api.edge.middleware import Middleware
from api.models import Reach
from drives.models import Drive, Plant, Position
from inventory.models import Storeroom
from inventory.models.access_scope import EVERYTHING, AccessScope, current_scope, scoped_to

Rows = TypeVar("Rows", bound=QuerySet[Any])
OUTSIDE_SCOPE = "It is outside the plants and storerooms that these credentials may see."
ELSEWHERE = "another plant"


def visible_to_caller(rows: Rows) -> Rows:
    """Rows visible to the current caller; none of a model that is not declared."""
    scope = current_scope()
    if scope.is_whole:
        return rows
    declaration = find_declaration(rows.model)
    return rows.none() if declaration is None else rows.filter(declaration.scope.rows(scope))


def is_visible(record: Model) -> bool:
    """Whether the current caller may see this record."""
    return (
        current_scope().is_whole
        or visible_to_caller(type(record)._base_manager.filter(pk=record.pk)).exists()
    )


def redact_hidden_plants(evidence: Any, sentences: Any = None) -> Any:
    """Evidence pools all plants: tags of positions and drives that the caller may not see are replaced, and storerooms too."""
    if current_scope().is_whole:
        return evidence if sentences is None else sentences
    found = _renamed(evidence if sentences is None else sentences, _hidden_tags(evidence))
    rooms = set(_named("storeroom", found))
    return _without_storerooms(found, rooms - _visible_storerooms(rooms)) if rooms else found


def _visible_storerooms(codes: Iterable[str]) -> set[str]:
    return set(visible_to_caller(Storeroom.objects.filter(code__in=codes)).values_list("code", flat=True))


def _without_storerooms(value: Any, hidden: set[str]) -> Any:
    """A code may be part of another word: only where it names a storeroom is it replaced."""
    if isinstance(value, list):
        return [_without_storerooms(one, hidden) for one in value]
    if not isinstance(value, Mapping):
        return value
    found = {name: _without_storerooms(one, hidden) for name, one in value.items()}
    if value.get("storeroom") in hidden:
        found["storeroom"] = ELSEWHERE
        found |= {"work_order": None} if "work_order" in found else {}
    return found


def _hidden_tags(evidence: Any) -> set[str]:
    positions, drives = set(_named("position", evidence)), set(_named("drive", evidence))
    seen = visible_to_caller(Position.objects.filter(tag__in=positions)).values_list("tag", flat=True)
    driven = visible_to_caller(Drive.objects.filter(tag__in=drives)).values_list("tag", flat=True)
    return (positions - set(seen)) | (drives - set(driven))


def _named(member: str, value: Any) -> Iterator[str]:
    if isinstance(value, Mapping) and isinstance(found := value.get(member), str):
        yield found
    for child in value.values() if isinstance(value, Mapping) else value if isinstance(value, list) else ():
        yield from _named(member, child)


def _renamed(value: Any, hidden: set[str]) -> Any:
    if isinstance(value, Mapping):
        at_hidden = value.get("position") in hidden
        return {
            name: None if at_hidden and name == "work_order" else _renamed(one, hidden)
            for name, one in value.items()
        }
    if isinstance(value, list):
        return [_renamed(one, hidden) for one in value]
    if isinstance(value, str):
        for tag in sorted(hidden, key=len, reverse=True):
            value = value.replace(tag, ELSEWHERE)
    return value


def is_hidden(rows: QuerySet[Any]) -> bool:
    """Whether there is such a row, and this caller may not see it."""
    return not current_scope().is_whole and rows.exists() and not visible_to_caller(rows).exists()


def refuse_beyond_scope(model: type[Model]) -> None:
    """A caller with limits makes no plant and no storeroom: whatever its code, it would not be among those of the limits."""
    scope, declaration = current_scope(), find_declaration(model)
    if declaration is None:
        return
    of_plants = declaration.scope.plant == "pk" and scope.plants is not None
    if of_plants or ("pk" in declaration.scope.storerooms and scope.storerooms is not None):
        raise PermissionDenied(OUTSIDE_SCOPE)


def scope_of_request(request: HttpRequest | ApiRequest) -> AccessScope:
    """The limits of the user and of the token; both apply."""
    token = getattr(request, "auth", None)
    found = EVERYTHING
    if token is not None:
        found = found.intersect(scope_of_owner(token))
    user = request.user
    return (
        found if isinstance(user, AnonymousUser) or user.pk is None else found.intersect(scope_of_owner(user))
    )


def scope_of_owner(owner: Any) -> AccessScope:
    """Without a row there is no limit."""
    try:
        reach: Reach = owner.reach
    except ObjectDoesNotExist:
        return EVERYTHING
    return AccessScope(
        frozenset(reach.plants.values_list("pk", flat=True)),
        frozenset(reach.storerooms.values_list("pk", flat=True)),
    )


def scope_as_json(scope: AccessScope) -> dict[str, list[int] | None]:
    """For work that is done later in the scope of whoever requested it."""
    return {
        "plants": None if scope.plants is None else sorted(scope.plants),
        "storerooms": None if scope.storerooms is None else sorted(scope.storerooms),
    }


def scope_from_json(stored: Mapping[str, list[int] | None]) -> AccessScope:
    plants, storerooms = stored["plants"], stored["storerooms"]
    return AccessScope(
        None if plants is None else frozenset(plants), None if storerooms is None else frozenset(storerooms)
    )


def scope_key(scope: AccessScope) -> str:
    """Equal for callers who may see the same."""
    return hashlib.sha256(json.dumps(scope_as_json(scope), sort_keys=True).encode()).hexdigest()


def limit_to(owner: dict[str, Any], plants: list[Plant], storerooms: list[Storeroom]) -> Reach:
    """`owner` is {"token": ...} or {"user": ...}. One side left out is completed by who serves whom."""
    reach, _ = Reach.objects.get_or_create(**owner)
    rooms = storerooms or [place.storeroom for place in plants if place.storeroom is not None]
    places = plants or list(Plant.objects.filter(storeroom__in=storerooms))
    reach.plants.set(places)
    reach.storerooms.set(rooms)
    return reach


def scope_of_caller(caller: Caller) -> Callable[[], AccessScope]:
    """Looked up once a request, when it is first needed."""

    def ask() -> AccessScope:
        if caller.remembered is None:
            caller.remembered = scope_of_request(caller.request)
        found: AccessScope = caller.remembered
        return found

    return ask


class CallerMiddleware(Middleware):
    """Makes the caller and its scope available for the length of a request."""

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        caller = Caller(request)
        with caller_set(caller), scoped_to(scope_of_caller(caller)):
            return self.get_response(request)
