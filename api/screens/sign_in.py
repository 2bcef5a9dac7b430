"""Logging in and out."""

from typing import Any

from django.conf import settings
from django.contrib.admin.forms import AdminAuthenticationForm
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponseBase
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from api.edge import logins


class CountedSignInForm(AuthenticationForm):
    """Counts each attempt before its password is checked."""

    def clean(self) -> dict[str, Any]:
        name = self.cleaned_data.get("username")
        if name is None or not self.cleaned_data.get("password"):
            return super().clean()
        attempt = logins.start_attempt(name, self.request)
        cleaned = super().clean()
        logins.mark_success(attempt, self.request)
        return cleaned


class AdminSignInForm(CountedSignInForm, AdminAuthenticationForm):
    pass


class SignInForm(CountedSignInForm):
    error_messages = {
        "invalid_login": _("User name and password do not match. Both are case-sensitive."),
        "inactive": _("This account is disabled. Ask an administrator."),
    }

    @property
    def faults(self) -> list[tuple[str, str]]:
        """Field id and sentence, in the order of the form."""
        missing = {"username": gettext("Enter the user name."), "password": gettext("Enter the password.")}
        found = [(f"id_{name}", sentence) for name, sentence in missing.items() if name in self.errors]
        return [*found, *(("id_username", str(error)) for error in self.non_field_errors())]


class SignIn(LoginView):
    template_name = "screens/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True
    http_method_names = ["get", "head", "post", "options"]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        is_offered = bool(settings.OIDC_RP_CLIENT_ID)
        address = reverse("oidc_authentication_init") if is_offered else ""
        return super().get_context_data(single_sign_on=address, **kwargs)

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if str(request.method).lower() not in self.http_method_names:
            return self.http_method_not_allowed(request)
        return super().dispatch(request, *args, **kwargs)
