"""Codes of the sources, and the word that each means here."""

from django.db.models import Q

from api.edge.declarations import EVERYBODY
from api.edge.filtering import ConditionFilter, Range, WordsFilter
from api.models import Role
from api.wire.declaration import ListForm, WireRecord, declare
from api.wire.fields import OptionalTextField
from drives.feed.code_mapping import VOCABULARY
from drives.models import CodeWord

CODE_WORDS = declare(
    WireRecord(
        CodeWord,
        path="code-words",
        scope=EVERYBODY,
        fields="id source field code word seen read_by_name created_at updated_at",
        read_only="id source field code seen read_by_name created_at updated_at",
        members={"word": OptionalTextField(max_length=40)},
        write_roles=(Role.MANAGER,),
        listed=ListForm(
            filters="source word",
            more={
                "field": WordsFilter(choices=list(VOCABULARY)),
                "unread": ConditionFilter(lambda: Q(word=""), help_text="Nobody has read it yet."),
            },
            numbers={"seen": Range(0, 2**31 - 1, whole=True)},
            search="code",
            sortable="id seen code",
            ordering="-seen id",
        ),
    )
)
