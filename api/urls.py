"""Every address of the service."""

from django.contrib import admin
from django.urls import include, path

from api.health import healthz, readyz
from api.schema import DocsView, IndexView, SchemaView

urlpatterns = [
    path("healthz", healthz, name="healthz"),
    path("readyz", readyz, name="readyz"),
    path("admin/", admin.site.urls),
    path("api/v1/", IndexView.as_view(), name="index"),
    path("api/v1/schema/", SchemaView.as_view(), name="schema"),
    path("api/v1/docs/", DocsView.as_view(), name="docs"),
    path("api/v1/", include("api.resources.urls")),
    path("", include("api.screens.urls")),
]

handler400 = "api.errors.bad_request"
handler403 = "api.errors.permission_denied"
handler404 = "api.errors.page_not_found"
handler500 = "api.errors.server_error"
