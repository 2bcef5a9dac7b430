"""Items marked to be run down, and the way back."""

from typing import Any

from api.answers.run_downs import undo_mark
from api.edge.auth import caller_name
from api.edge.parsing import StrictCharField
from api.wire.records.run_downs import RUN_DOWNS
from api.wire.serializers import BodySerializer, serializer_of
from api.wire.views import ReadRecordViewSet, post_action
from drives.assortment.running_down import LONGEST_REASON
from inventory.models import RunDown

RunDownSerializer = serializer_of(RUN_DOWNS)


class RunDownReasonSerializer(BodySerializer):
    reason = StrictCharField(max_length=LONGEST_REASON)


class RunDownViewSet(ReadRecordViewSet):
    """Made by `items/{id}/run-down/`; the newest first."""

    record = RUN_DOWNS

    @post_action(RunDownReasonSerializer, RunDownSerializer, needs_key=True)
    def undo(self, mark: RunDown, values: dict[str, Any]) -> None:
        """The item is active again; refused where it is not being run down any more."""
        undo_mark(mark.pk, by=caller_name(self.request), **values)
