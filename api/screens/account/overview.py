"""The page of one's own account."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.edge.auth import roles_of_user
from api.models import Reach, Role


@require_safe
@login_required
def account(request: HttpRequest) -> HttpResponse:
    own = roles_of_user(request.user)
    reach = Reach.objects.filter(user=request.user).first() if request.user.pk else None
    return render(
        request,
        "account/account.html",
        {
            "roles": [role.label for role in Role if role in own],
            "plants": list(reach.plants.all()) if reach else [],
            "storerooms": list(reach.storerooms.all()) if reach else [],
        },
    )
