"""A person reads a code: its word is kept, and every order that carries it is worked out anew."""

from datetime import datetime

from django.db import transaction

from drives.feed import stored_messages as messages
from drives.feed.codes import WORDS, carriers
from drives.feed.orders import derive
from drives.feed.stored_messages import WORK_ORDER
from drives.models import CodeWord
from inventory.plumbing.record_validation import RecordRefusal


class WordRefusal(RecordRefusal):
    """The word is none of the vocabulary of its field."""


def read_code(code: CodeWord, word: str, *, by: str, now: datetime) -> CodeWord:
    """Say what a code means; an empty word takes the reading back."""
    if word and word not in WORDS[code.field]:
        raise WordRefusal("word", f"word must be one of {', '.join(WORDS[code.field])}.")
    with transaction.atomic():
        held = CodeWord.objects.select_for_update().get(pk=code.pk)
        held.word, held.read_by_name = word, by if word else ""
        held.save(update_fields=["word", "read_by_name", "updated_at"])
    for source, external_id in carriers(held):
        with transaction.atomic():
            messages.hold(WORK_ORDER, source, external_id)
            derive(source, external_id, now)
    return held
