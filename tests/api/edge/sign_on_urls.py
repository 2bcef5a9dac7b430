"""The addresses of the service as they are where single sign-on is set."""

from django.urls import include, path

from api.urls import urlpatterns as own

urlpatterns = [path("oidc/", include("mozilla_django_oidc.urls")), *own]
handler400 = "api.edge.errors.bad_request"
