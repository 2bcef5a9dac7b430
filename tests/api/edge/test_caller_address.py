from typing import Any

import pytest
from django.core.checks import run_checks
from django.http import HttpResponse
from django.test import RequestFactory

from api.edge.caller_address import CallerAddressMiddleware


@pytest.mark.parametrize(
    ("peer", "said", "expected"),
    [
        ("10.20.0.1", "203.0.113.7", "203.0.113.7"),
        ("10.20.0.1", "198.51.100.1, 203.0.113.7", "203.0.113.7"),
        ("10.20.0.1", "203.0.113.7, 10.20.0.9", "203.0.113.7"),
        ("10.20.0.1", "", "10.20.0.1"),
        ("10.20.0.1", "unknown", "10.20.0.1"),
        ("203.0.113.7", "198.51.100.1", "203.0.113.7"),
        ("2001:db8::1", "2001:db8:1::5", "2001:db8:1::5"),
    ],
)
def test_the_caller_is_who_the_last_trusted_proxy_names(
    peer: str, said: str, expected: str, settings: Any
) -> None:
    settings.TRUSTED_PROXIES = ["10.20.0.0/16", "2001:db8::1"]
    request = RequestFactory().get("/", REMOTE_ADDR=peer, HTTP_X_FORWARDED_FOR=said)
    CallerAddressMiddleware(lambda _: HttpResponse())(request)
    assert request.META["REMOTE_ADDR"] == expected


@pytest.mark.parametrize(("proxies", "warned"), [([], ["api.W001"]), (["10.20.0.1"], [])])
def test_deploying_warns_of_a_proxy_without_its_address(
    proxies: list[str], warned: list[str], settings: Any
) -> None:
    settings.SECURE_PROXY_SSL_HEADER, settings.TRUSTED_PROXIES = ("HTTP_X_FORWARDED_PROTO", "https"), proxies
    found = run_checks(tags=["security"], include_deployment_checks=True)
    assert [one.id for one in found if str(one.id).startswith("api.")] == warned
