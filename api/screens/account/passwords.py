"""Passwords, changed and set anew by their owner."""

from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model, views
from django.contrib.auth.forms import PasswordChangeForm, SetPasswordForm
from django.contrib.auth.tokens import default_token_generator
from django.db import transaction
from django.forms import BooleanField, Form
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.urls import reverse, reverse_lazy
from django.utils import timezone
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django.utils.translation import gettext_lazy as _

from api.edge import logins
from api.edge.change_log import logging_changes
from api.edge.public_address import public_address
from api.models import AccessToken


class EndsTokens(Form):
    """A token outlives the password with which its owner made it, unless this is ticked."""

    end_tokens = BooleanField(
        required=False, label=_("Revoke all my tokens too: somebody may have known the password")
    )


class ChangeForm(EndsTokens, PasswordChangeForm):
    pass


class SetForm(EndsTokens, SetPasswordForm):  # type: ignore[type-arg]
    pass


class PasswordLogged:
    """The change is in the log, without the password."""

    def form_valid(self, form: Any) -> HttpResponse:
        user = form.user
        with transaction.atomic():
            users = get_user_model()._base_manager.filter(pk=user.pk)
            with logging_changes(users, by=user.get_username()):
                answer: HttpResponse = super().form_valid(form)  # type: ignore[misc]
            if form.cleaned_data["end_tokens"]:
                own = AccessToken.objects.filter(user=user, revoked_at=None)
                keys = list(own.values_list("pk", flat=True))
                standing = AccessToken.objects.filter(pk__in=keys)
                with logging_changes(standing, by=user.get_username()):
                    standing.update(revoked_at=timezone.now())
        return answer


class ChangePassword(PasswordLogged, views.PasswordChangeView):
    template_name = "account/change_password.html"
    form_class = ChangeForm
    success_url = reverse_lazy("screens:password_changed")


class AskForReset(views.PasswordResetView):
    """Mail goes to the address that stands in the account; whether one does is not told."""

    template_name = "account/ask_for_reset.html"
    email_template_name = "account/reset_mail.txt"
    subject_template_name = "account/reset_subject.txt"
    success_url = reverse_lazy("screens:reset_sent")
    extra_context = {"sends_mail": bool(settings.EMAIL_HOST)}

    def form_valid(self, form: Any) -> HttpResponse:
        logins.count_mail(form.cleaned_data["email"], logins.address_of(self.request))
        self.extra_email_context = {"address": public_address("/", self.request).rstrip("/")}
        return super().form_valid(form)

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not settings.EMAIL_HOST and request.method == "POST":
            return self.http_method_not_allowed(request)
        return super().dispatch(request, *args, **kwargs)


class SetPassword(PasswordLogged, views.PasswordResetConfirmView):
    """Who was sent the link and has used it logs in on this device, whatever others try with this name meanwhile."""

    template_name = "account/set_password.html"
    form_class = SetForm
    success_url = reverse_lazy("screens:login")

    def form_valid(self, form: Any) -> HttpResponse:
        answer = super().form_valid(form)
        logins.remember_device(self.request, form.user.get_username())
        return answer


def link_to_set_password(user: Any, request: HttpRequest | None = None) -> str:
    """For whoever hands it over: where this user sets a password, once, within PASSWORD_RESET_TIMEOUT."""
    words = {
        "uidb64": urlsafe_base64_encode(force_bytes(user.pk)),
        "token": default_token_generator.make_token(user),
    }
    address = public_address(reverse("screens:set_password", kwargs=words), request)
    return f"the address of this service, then {address}" if address.startswith("/") else address
