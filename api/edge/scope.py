"""What a caller may see of each kind of record: one table, asked by every view, reference and answer.

A model that stands in neither table shows nothing to a caller with limits, so that a new one cannot leak.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any, TypeVar

from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import ObjectDoesNotExist
from django.db.models import Model, Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponseBase
from rest_framework.request import Request as ApiRequest

from api.edge.caller import Caller, calling
from api.models import Change, Reach
from drives.models import (
    Approval,
    Area,
    CodeWord,
    Drive,
    Equipment,
    InboundMessage,
    Inspection,
    Installation,
    MeterReading,
    Plant,
    Position,
    Request,
    WorkOrder,
)
from inventory.models import (
    Bin,
    CountTask,
    Event,
    FitQuestion,
    Item,
    Kit,
    MachineShop,
    OpeningHours,
    Recommendation,
    Reservation,
    Rule,
    ServiceTarget,
    ShopTime,
    Specification,
    StockEntry,
    StockingRun,
    StockingTerms,
    StockLevel,
    StockPiece,
    StockPolicy,
    Storeroom,
    SupplyOrder,
    TransferTime,
)
from inventory.models.access_scope import EVERYTHING, AccessScope, current_scope, scoped_to

Rows = TypeVar("Rows", bound=QuerySet[Any])
ScopeRule = Callable[[AccessScope], Q]
OUTSIDE_SCOPE = "It lies outside the plants and storerooms that these credentials reach."
ELSEWHERE = "another plant"
EVERY_ROW = Q()
OF_POSITION = "position__drive__equipment__area__plant"


def plant(path: str) -> ScopeRule:
    def rule(seen: AccessScope) -> Q:
        return EVERY_ROW if seen.plants is None else Q(**{f"{path}__in": seen.plants})

    return rule


def storeroom(path: str) -> ScopeRule:
    def rule(seen: AccessScope) -> Q:
        return EVERY_ROW if seen.storerooms is None else Q(**{f"{path}__in": seen.storerooms})

    return rule


def both(*rules: ScopeRule) -> ScopeRule:
    def rule(seen: AccessScope) -> Q:
        found = Q()
        for one in rules:
            found &= one(seen)
        return found

    return rule


def by_code(seen: AccessScope) -> Q:
    """Rows that name their plant and storeroom by code; one that names none belongs to everybody."""
    found = Q()
    if seen.plants is not None:
        found &= Q(plant="") | Q(plant__in=Plant.objects.filter(pk__in=seen.plants).values("code"))
    if seen.storerooms is not None:
        rooms = Storeroom.objects.filter(pk__in=seen.storerooms).values("code")
        found &= Q(storeroom="") | Q(storeroom__in=rooms)
    return found


def changes(seen: AccessScope) -> Q:
    """A caller with limits does not read who may get in."""
    return by_code(seen) & ~Q(record__startswith="auth.") & ~Q(record__startswith="api.")


def hours(seen: AccessScope) -> Q:
    return Q(storeroom__isnull=True) | storeroom("storeroom")(seen)


def work_orders(seen: AccessScope) -> Q:
    if seen.plants is None:
        return EVERY_ROW
    at_equipment = Q(position__isnull=True, equipment__area__plant__in=seen.plants)
    nowhere_yet = Q(position__isnull=True, equipment__isnull=True)
    return Q(**{f"{OF_POSITION}__in": seen.plants}) | at_equipment | nowhere_yet


def nothing(seen: AccessScope) -> Q:
    return Q(pk__in=[])


RULES: dict[type[Model], ScopeRule] = {
    Plant: plant("pk"),
    Area: plant("plant"),
    Equipment: plant("area__plant"),
    Drive: plant("equipment__area__plant"),
    Position: plant("drive__equipment__area__plant"),
    Installation: plant(OF_POSITION),
    Inspection: plant(OF_POSITION),
    MeterReading: plant(OF_POSITION),
    Approval: plant(f"installation__{OF_POSITION}"),
    WorkOrder: work_orders,
    InboundMessage: nothing,
    Storeroom: storeroom("pk"),
    Bin: storeroom("storeroom"),
    OpeningHours: hours,
    TransferTime: both(storeroom("from_storeroom"), storeroom("to_storeroom")),
    StockLevel: storeroom("storeroom"),
    StockPiece: storeroom("level__storeroom"),
    StockEntry: storeroom("storeroom"),
    Reservation: storeroom("storeroom"),
    Kit: storeroom("storeroom"),
    CountTask: storeroom("storeroom"),
    FitQuestion: storeroom("storeroom"),
    StockPolicy: storeroom("storeroom"),
    Recommendation: storeroom("storeroom"),
    SupplyOrder: storeroom("storeroom"),
    Request: storeroom("storeroom"),
    Event: by_code,
    Change: changes,
}
COMMON: frozenset[type[Model]] = frozenset(
    {
        *(Item, Specification, MachineShop, Rule, ShopTime, ServiceTarget, StockingTerms, StockingRun),
        CodeWord,
    }
)
SHOWN_TO_THEIR_OWNER = frozenset({"api.ImportRun", "api.Webhook", "api.Delivery"})
"""Their views see to it."""


def visible_to_caller(rows: Rows) -> Rows:
    """The rows that the present caller may see."""
    seen = current_scope()
    if seen.is_whole or rows.model in COMMON or rows.model._meta.label in SHOWN_TO_THEIR_OWNER:
        return rows
    rule = RULES.get(rows.model)
    return rows.none() if rule is None else rows.filter(rule(seen))


def is_visible(record: Model) -> bool:
    """Whether the present caller may see this record."""
    return (
        current_scope().is_whole
        or visible_to_caller(type(record)._base_manager.filter(pk=record.pk)).exists()
    )


def redact_hidden_plants(evidence: Any, sentences: Any = None) -> Any:
    """Evidence (or the sentences drawn from it) pools every plant: places out of reach lose their names."""
    if current_scope().is_whole:
        return evidence if sentences is None else sentences
    return _renamed(evidence if sentences is None else sentences, _hidden_tags(evidence))


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


def refuse_hidden(rows: QuerySet[Any]) -> None:
    """404 where a row stands that this caller may not see: an upsert must not write over it."""
    if not current_scope().is_whole and rows.exists() and not visible_to_caller(rows).exists():
        raise Http404


def scope_of_request(request: HttpRequest | ApiRequest) -> AccessScope:
    """The reach of the user and that of the token, whichever there are; both bind."""
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


def limit_to(owner: dict[str, Any], plants: list[Plant], storerooms: list[Storeroom]) -> Reach:
    """`owner` is {"token": ...} or {"user": ...}. One side left out is completed by who serves whom."""
    reach, _ = Reach.objects.get_or_create(**owner)
    rooms = storerooms or [place.storeroom for place in plants if place.storeroom is not None]
    places = plants or list(Plant.objects.filter(storeroom__in=storerooms))
    reach.plants.set(places)
    reach.storerooms.set(rooms)
    return reach


def scope_of_caller(caller: Caller) -> Callable[[], AccessScope]:
    """Asked once a request, when something is first looked for."""

    def ask() -> AccessScope:
        if caller.remembered is None:
            caller.remembered = scope_of_request(caller.request)
        found: AccessScope = caller.remembered
        return found

    return ask


class CallerMiddleware:
    """Keeps who asks, and what they may see, beside the work for the length of a request."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        caller = Caller(request)
        with calling(caller), scoped_to(scope_of_caller(caller)):
            return self.get_response(request)
