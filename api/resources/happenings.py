"""How the refusals of the history are answered: a bad member, or a conflict with what is recorded."""

from collections.abc import Iterator
from contextlib import contextmanager

from api.edge.errors import Conflict, field_errors, pointer
from drives.service_record.history import HistoryRefusal, LivesOverlap, NothingFitted, UnitFitted

MEMBERS = {"stock_entry": "movement"}
"""Where the history's word for a field is not the name of the member."""


@contextmanager
def history_refusals() -> Iterator[None]:
    try:
        yield
    except (UnitFitted, LivesOverlap) as refusal:
        raise Conflict(refusal.sentence, installation=refusal.installation.pk) from refusal
    except NothingFitted as refusal:
        raise Conflict(refusal.sentence) from refusal
    except HistoryRefusal as refusal:
        raise field_errors(
            {pointer(MEMBERS.get(refusal.field, refusal.field)): refusal.sentence}
        ) from refusal
