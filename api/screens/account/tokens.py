"""Tokens, made, seen and revoked: one's own; for administrators those of machines and of everybody too."""

from typing import Any

from django import forms
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods, require_POST

from api.edge.auth import roles_of_user
from api.edge.change_log import log_change, log_creation, values_of
from api.edge.scope import limit_to
from api.models import AccessToken, AccessTokenQuerySet, Role
from drives.models import Plant
from inventory.models import Storeroom

LONGEST_DAYS = 730


class TokenForm(forms.Form):
    name = forms.CharField(label=_("Who or what will use it"), max_length=100)
    role = forms.ChoiceField(label=_("Role"))
    days = forms.IntegerField(label=_("Days until it expires"), min_value=1, max_value=LONGEST_DAYS)


class MachineTokenForm(TokenForm):
    """A token that belongs to nobody: it stays when people leave."""

    plants = forms.ModelMultipleChoiceField(
        Plant.objects.order_by("code"), label=_("Plants it may see; none chosen: all"), required=False
    )
    storerooms = forms.ModelMultipleChoiceField(
        Storeroom.objects.order_by("code"),
        label=_("Storerooms it may see; none chosen: those that serve the plants"),
        required=False,
    )


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def tokens(request: HttpRequest) -> HttpResponse:
    form = form_for(request)
    secret = ""
    if request.method == "POST" and form.is_valid():
        secret = make_token(request.user, form.cleaned_data)
        form = form_for(request, is_new=True)
    return render(
        request,
        "account/tokens.html",
        {
            "form": form,
            "secret": secret,
            "tokens": tokens_of(request.user),
            "header": "Authorization: Bearer TOKEN",
        },
        status=400 if form.errors else 200,
    )


@require_POST
@login_required
def revoke_token(request: HttpRequest, key: int) -> HttpResponse:
    with transaction.atomic():
        token = get_object_or_404(tokens_of(request.user).select_for_update(of=("self",)), pk=key)
        if token.revoked_at is None:
            before = values_of(token)
            token.revoked_at = timezone.now()
            token.save(update_fields=["revoked_at"])
            log_change(token, before)
    return redirect("screens:tokens")


def tokens_of(user: Any) -> AccessTokenQuerySet:
    rows = AccessToken.objects.select_related("user").order_by("revoked_at", "name", "id")
    return rows if user.is_superuser else rows.filter(user=user)


def form_for(request: HttpRequest, *, is_new: bool = False) -> TokenForm:
    kind = MachineTokenForm if request.user.is_superuser else TokenForm
    form = kind(None if is_new or request.method != "POST" else request.POST, initial={"days": 365})
    own = roles_of_user(request.user)
    field: Any = form.fields["role"]
    field.choices = [(role.value, role.label) for role in Role if role in own]
    return form


def make_token(user: Any, given: dict[str, Any]) -> str:
    owner = None if user.is_superuser else user
    with transaction.atomic():
        token, secret = AccessToken.objects.issue(
            given["name"], role=given["role"], days=given["days"], user=owner
        )
        log_creation(token)
        plants, storerooms = list(given.get("plants") or ()), list(given.get("storerooms") or ())
        if plants or storerooms:
            limit_to({"token": token}, plants, storerooms)
    return secret
