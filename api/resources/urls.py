"""Addresses of the resources, below /api/v1/."""

from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from typing import Any

from django.urls import URLPattern, URLResolver, path
from rest_framework.routers import SimpleRouter

from api.resources.chain_stock import ChainStockView
from api.resources.events import EventListView, EventTypesView
from api.resources.feeds import FeedView
from api.resources.reorder_list import ReorderListView
from api.resources.stocking_terms import STOCKING_TERMS
from api.wire.declaration import wire_records
from api.wire.views import view_of

for _module in iter_modules([str(Path(__file__).parent)]):
    import_module(f"api.resources.{_module.name}")


class KeyRouter(SimpleRouter):
    """What stands below a record comes before the record: its key may have slashes in it."""

    routes = [*SimpleRouter.routes[:2], SimpleRouter.routes[3], SimpleRouter.routes[2]]


class PathRouter(SimpleRouter):
    """For views that say how a record is found (`lookup_path`)."""

    routes = [
        *SimpleRouter.routes[:2],
        SimpleRouter.routes[2]._replace(mapping={"get": "retrieve", "put": "upsert"}),  # type: ignore[call-arg]
    ]

    def get_lookup_regex(self, viewset: Any, lookup_prefix: str = "") -> str:
        return str(viewset.lookup_path)


router, path_router = KeyRouter(), PathRouter(use_regex_path=False)
for record in wire_records():
    if record.listed and record.path:
        view = view_of(record)
        chosen = path_router if hasattr(view, "lookup_path") else router
        chosen.register(record.path, view, basename=record.basename)

urlpatterns: list[URLPattern | URLResolver] = [
    path("feeds/<str:source>/<str:kind>/", FeedView.as_view(), name="feed"),
    path("events/", EventListView.as_view(), name="events"),
    path("events/types/", EventTypesView.as_view(), name="event-types"),
    path("chain-stock/", ChainStockView.as_view(), name="chain-stock"),
    path("reorder-list/", ReorderListView.as_view(), name="reorder-list"),
    *STOCKING_TERMS,
    *path_router.urls,
    *router.urls,
]
