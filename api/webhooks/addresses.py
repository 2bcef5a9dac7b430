"""Where a delivery may go: the URL itself, and every IP address that its host name resolves to.

A caller chooses the address, so it must lead nowhere that this machine reaches and the caller does not. What lies
inside is opened by the operator alone, by host or network (`WEBHOOK_ALLOWED_HOSTS`).
"""

import contextlib
import ipaddress
import re
import socket
import threading
from dataclasses import dataclass
from urllib.parse import urlsplit

from django.conf import settings

IpAddress = ipaddress.IPv4Address | ipaddress.IPv6Address

LONGEST = 500
LOOK_UP_SECONDS = 5.0
DEFAULT_PORTS = {"https": 443, "http": 80}
PRINTABLE = re.compile(r"[\x21-\x7e]+")
HOST_NAME = re.compile(
    r"(?=.{1,253}\Z)[a-z0-9_]([a-z0-9_-]{0,61}[a-z0-9_])?(\.[a-z0-9_]([a-z0-9_-]{0,61}[a-z0-9_])?)*\.?"
)
# The last part of a name is a number only where the whole is an IPv4 address in some spelling (WHATWG URL, 3.5).
ENDS_IN_A_NUMBER = re.compile(r"(^|.*\.)(0x[0-9a-f]*|[0-9]+)\.?")
# Prefixes that carry an IPv4 address: RFC 6052 (NAT64), RFC 4291 2.5.5.1 (IPv4-compatible), RFC 3056 (6to4).
NAT64 = ipaddress.IPv6Network("64:ff9b::/96")
COMPATIBLE = ipaddress.IPv6Network("::/96")
# A translator of the own network (RFC 8215), and tunnels that end anywhere (RFC 4380).
NEVER = (ipaddress.IPv6Network("64:ff9b:1::/48"), ipaddress.IPv6Network("2001::/32"))


class AddressRefused(ValueError):  # noqa: N818 - a refusal, not an error
    """Nothing may be sent there; the message says why."""


@dataclass(frozen=True)
class Target:
    is_secure: bool
    host: str
    port: int
    path: str

    @property
    def host_header(self) -> str:
        named = f"[{self.host}]" if ":" in self.host else self.host
        return (
            named
            if self.port == DEFAULT_PORTS["https" if self.is_secure else "http"]
            else f"{named}:{self.port}"
        )


def read_address(url: str) -> Target:
    """The parts of a valid address; no name is resolved."""
    if len(url) > LONGEST or not PRINTABLE.fullmatch(url) or "\\" in url:
        raise AddressRefused(f"An address of at most {LONGEST} visible ASCII characters is expected.")
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError as error:
        raise AddressRefused("This is not a valid address.") from error
    scheme = parts.scheme.lower()
    if scheme != "https" and not (scheme == "http" and settings.WEBHOOK_ALLOW_HTTP):
        raise AddressRefused("An address that begins with https:// is expected.")
    if "@" in parts.netloc:
        raise AddressRefused(
            "An address must not hold a user name or a password; deliveries are signed instead."
        )
    if parts.fragment:
        raise AddressRefused("An address must not hold a fragment (#).")
    port = DEFAULT_PORTS[scheme] if port is None else port
    if port not in settings.WEBHOOK_PORTS:
        known = ", ".join(str(one) for one in settings.WEBHOOK_PORTS)
        raise AddressRefused(f"Port {port} is not allowed for deliveries; allowed are: {known}.")
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    return Target(scheme == "https", sound_host(parts.hostname or ""), port, path)


def sound_host(host: str) -> str:
    if ":" in host:
        return str(ip_of(host.partition("%")[0])) if "%" not in host else refuse_host(host)
    if ENDS_IN_A_NUMBER.fullmatch(host):
        return str(ip_of(host))
    return host if HOST_NAME.fullmatch(host) else refuse_host(host)


def ip_of(text: str) -> IpAddress:
    """Strict: 127.1, 0177.0.0.1, 0x7f000001 and 2130706433 are refused, as they only hide an address."""
    try:
        return ipaddress.ip_address(text)
    except ValueError as error:
        raise AddressRefused(
            f"{text} is not a plain IP address: write it as four decimal numbers."
        ) from error


def refuse_host(host: str) -> str:
    raise AddressRefused(f'"{host[:80]}" is not the name of a host.')


def resolve(target: Target, seconds: float = LOOK_UP_SECONDS) -> list[IpAddress]:
    """Every IP address of the host, all of them allowed. Connect to one of these, without resolving the name again."""
    numbers = look_up(target, seconds)
    if not numbers:
        raise AddressRefused(f"The host {target.host} cannot be found.")
    for number in numbers:
        if not is_allowed(target.host, number):
            raise AddressRefused(
                f"The host {target.host} has an internal address; an administrator can allow it for deliveries."
            )
    return numbers


def look_up(target: Target, seconds: float) -> list[IpAddress]:
    """What the name resolves to; nothing when that takes too long."""
    found: list[IpAddress] = []

    def ask() -> None:
        with contextlib.suppress(OSError, UnicodeError):
            rows = socket.getaddrinfo(target.host, target.port, type=socket.SOCK_STREAM)
            found.extend(dict.fromkeys(ip_of(str(one[4][0]).partition("%")[0]) for one in rows))

    lookup = threading.Thread(target=ask, daemon=True)
    lookup.start()
    lookup.join(seconds)
    return [] if lookup.is_alive() else found


def is_allowed(host: str, number: IpAddress) -> bool:
    return is_public(number) or is_opened(host, number)


def is_public(number: IpAddress) -> bool:
    """Whether it is on the public internet, also when it is written as an IPv6 address that carries it."""
    if isinstance(number, ipaddress.IPv6Address):
        inner = inner_ipv4(number)
        if inner is not None:
            return is_public(inner)
        if number.is_site_local or any(number in network for network in NEVER):
            return False
    return number.is_global and not (number.is_multicast or number.is_reserved or number.is_unspecified)


def inner_ipv4(number: ipaddress.IPv6Address) -> ipaddress.IPv4Address | None:
    if number.ipv4_mapped is not None:
        return number.ipv4_mapped
    if number in NAT64 or number in COMPATIBLE:
        return ipaddress.IPv4Address(int(number) & 0xFFFF_FFFF)
    return number.sixtofour


def is_opened(host: str, number: IpAddress) -> bool:
    """Whether the settings allow this host by name, or the network of the address."""
    name = host.rstrip(".")
    for one in settings.WEBHOOK_ALLOWED_HOSTS:
        if one.lower() == name:
            return True
        try:
            network = ipaddress.ip_network(one, strict=False)
        except ValueError:
            continue
        if number.version == network.version and number in network:
            return True
    return False
