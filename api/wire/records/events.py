"""Events and changes: they name their plant and storeroom by code."""

from django.db.models import Q

from api.edge.declarations import Scope, declare
from api.edge.filtering import WordsFilter
from api.models import Change
from api.wire.declaration import ListForm, WireRecord
from drives.models import Plant
from inventory.models import Event, Storeroom
from inventory.models.access_scope import AccessScope


def by_code(scope: AccessScope) -> Q:
    """A row that names no plant and no storeroom belongs to everybody."""
    found = Q()
    if scope.plants is not None:
        found &= Q(plant="") | Q(plant__in=Plant.objects.filter(pk__in=scope.plants).values("code"))
    if scope.storerooms is not None:
        rooms = Storeroom.objects.filter(pk__in=scope.storerooms).values("code")
        found &= Q(storeroom="") | Q(storeroom__in=rooms)
    return found


def without_accounts(scope: AccessScope) -> Q:
    """A caller with limits does not read who may get in."""
    return by_code(scope) & ~Q(record__startswith="auth.") & ~Q(record__startswith="api.")


EVENTS = declare(WireRecord(Event, path="events", scope=Scope(rule=by_code), is_logged=False))
CHANGES = declare(
    WireRecord(
        Change,
        path="changes",
        text="`before` and `after` hold what differs; a secret shows only that it changed.",
        list_text="Who changed which record from what to what, newest first. Nothing in it can be changed.",
        is_read_only=True,
        read_roles=("manager",),
        write_roles=("manager",),
        scope=Scope(rule=without_accounts),
        is_logged=False,
        fields="id at by_name request_id action record key storeroom plant before after",
        listed=ListForm(
            filters="by_name request_id action key storeroom plant",
            more={"record": WordsFilter(help_text="Such as inventory.item.")},
            moments="at",
            search="key by_name",
            sortable="id",
            ordering="-id",
        ),
    )
)
