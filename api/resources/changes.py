"""The log of changes, to be read."""

from api.models import Role
from api.wire.records.events import CHANGES
from api.wire.serializers import ReadSerializer
from api.wire.views import ReadRecordViewSet


class ChangeSerializer(ReadSerializer):
    """`before` and `after` hold what differs; a secret shows only that it changed."""

    record = CHANGES


class ChangeViewSet(ReadRecordViewSet):
    """Who changed which record from what to what, newest first. Nothing in it can be changed."""

    record = CHANGES
    read_roles = (Role.MANAGER,)
