"""Logging in and out."""

from typing import Any

from django.contrib.admin.forms import AdminAuthenticationForm
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponseBase

from api.edge import logins


class CountedTries(AuthenticationForm):
    """Each try counts before its password is looked at."""

    def clean(self) -> dict[str, Any]:
        name = self.cleaned_data.get("username")
        if name is None or not self.cleaned_data.get("password"):
            return super().clean()
        attempt = logins.start_attempt(name, logins.address_of(self.request))
        cleaned = super().clean()
        logins.mark_success(attempt)
        return cleaned


class AdminSignInForm(CountedTries, AdminAuthenticationForm):
    pass


class SignInForm(CountedTries):
    error_messages = {
        "invalid_login": "User name and password do not go together. Capitals count in both.",
        "inactive": "This login is switched off. Ask whoever keeps the records.",
    }

    @property
    def faults(self) -> list[tuple[str, str]]:
        """Field id and sentence, in the order of the form."""
        missing = {"username": "Give the user name.", "password": "Give the password."}
        found = [(f"id_{name}", sentence) for name, sentence in missing.items() if name in self.errors]
        return [*found, *(("id_username", str(error)) for error in self.non_field_errors())]


class SignIn(LoginView):
    template_name = "screens/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True
    http_method_names = ["get", "head", "post", "options"]

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if str(request.method).lower() not in self.http_method_names:
            return self.http_method_not_allowed(request)
        return super().dispatch(request, *args, **kwargs)
