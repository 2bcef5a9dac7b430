"""The time zone of a page that is about several storerooms."""

from collections import Counter
from collections.abc import Iterable
from contextlib import AbstractContextManager
from zoneinfo import ZoneInfo

from django.utils import timezone

from inventory.models import Storeroom


def storeroom_time(storerooms: Iterable[Storeroom], code: str = "") -> AbstractContextManager[None]:
    """That of the storeroom named, else of most of them, else of the service."""
    rooms = list(storerooms)
    named = [room.timezone for room in rooms if room.code == code]
    zones = Counter(named or [room.timezone for room in rooms])
    zone = ZoneInfo(zones.most_common(1)[0][0]) if zones else timezone.get_default_timezone()
    return timezone.override(zone)
