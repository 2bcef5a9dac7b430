"""The clock on the wall of those who read a page that is about several storerooms."""

from collections import Counter
from collections.abc import Iterable
from contextlib import AbstractContextManager
from zoneinfo import ZoneInfo

from django.utils import timezone

from inventory.models import Storeroom


def storeroom_time(storerooms: Iterable[Storeroom], code: str = "") -> AbstractContextManager[None]:
    """Times as at the storeroom named, else as at most of them; those of the service where there is none."""
    rooms = list(storerooms)
    named = [room.timezone for room in rooms if room.code == code]
    zones = Counter(named or [room.timezone for room in rooms])
    zone = ZoneInfo(zones.most_common(1)[0][0]) if zones else timezone.get_default_timezone()
    return timezone.override(zone)
