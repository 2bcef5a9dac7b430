"""The address of the caller behind trusted proxies, put where everything reads it: `REMOTE_ADDR`."""

import ipaddress
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Tags, Warning, register
from django.http import HttpRequest, HttpResponseBase

from api.edge.middleware import Middleware


@register(Tags.security, deploy=True)
def proxies_are_named(app_configs: Any, **more: Any) -> list[CheckMessage]:
    if not getattr(settings, "SECURE_PROXY_SSL_HEADER", None) or settings.TRUSTED_PROXIES:
        return []
    wrong = (
        "BEHIND_TLS_PROXY without TRUSTED_PROXIES: every login has the address of the proxy, and the wrong passwords of "
        "one person lock out all others."
    )
    hint = "Set TRUSTED_PROXIES to the address of the proxy."
    return [Warning(wrong, hint=hint, id="api.W001")]


class CallerAddressMiddleware(Middleware):
    """The last address of X-Forwarded-For that is no trusted proxy; anything before it may have been made up."""

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        trusted = [ipaddress.ip_network(one) for one in settings.TRUSTED_PROXIES]
        address = request.META.get("REMOTE_ADDR", "")
        request.is_from_proxy = is_within(address, trusted)  # type: ignore[attr-defined]
        said = [
            part.strip() for part in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",") if part.strip()
        ]
        while said and is_within(address, trusted):
            before = said.pop()
            if parsed(before) is None:
                break
            address = before
        request.META["REMOTE_ADDR"] = address
        return self.get_response(request)


def parsed(text: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(text)
    except ValueError:
        return None


def is_within(text: str, networks: list[ipaddress.IPv4Network | ipaddress.IPv6Network]) -> bool:
    address = parsed(text)
    return address is not None and any(address in network for network in networks)
