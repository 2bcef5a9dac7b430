"""Every address of the service."""

from django.conf import settings
from django.contrib import admin
from django.urls import include, path

from api.edge.schema import IndexView, SchemaView
from api.operations.health import healthz, readyz
from api.operations.metrics import metrics
from api.screens.contract import pages

urlpatterns = [
    path("healthz", healthz, name="healthz"),
    path("readyz", readyz, name="readyz"),
    path("metrics", metrics, name="metrics"),
    path("admin/", admin.site.urls),
    path("api/v1/", IndexView.as_view(), name="index"),
    path("api/v1/schema/", SchemaView.as_view(), name="schema"),
    path("api/v1/docs/", pages.docs, name="docs"),
    path("api/v1/docs/<slug:name>/", pages.docs_group, name="docs_group"),
    path("api/v1/docs/<slug:name>/members/", pages.docs_members, name="docs_members"),
    path("api/v1/guide/", pages.first_hour, name="guide"),
    path("api/v1/guide/changes/", pages.changes, name="api_changes"),
    path("problems/", pages.problem_list, name="problems"),
    path("problems/<slug:slug>", pages.problem, name="problem"),
    path("api/v1/", include("api.answers.urls")),
    path("api/v1/", include("api.resources.urls")),
    path("", include("api.screens.urls")),
]
if settings.OIDC_RP_CLIENT_ID:
    urlpatterns.insert(0, path("oidc/", include("mozilla_django_oidc.urls")))

handler400 = "api.edge.errors.bad_request"
handler403 = "api.edge.errors.permission_denied"
handler404 = "api.edge.errors.page_not_found"
handler500 = "api.screens.unavailable_pages.failed"
