"""Logging in and out."""

from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView


class SignInForm(AuthenticationForm):
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
