"""Answers of sources: what their headings, codes and times mean."""

from api.edge.declarations import EVERYBODY
from api.models import Role, SourceAnswer
from api.wire import cells
from api.wire.declaration import FileForm, ListForm, WireRecord, declare

SOURCE_ANSWERS = declare(
    WireRecord(
        SourceAnswer,
        path="source-answers",
        text=(
            "`about` and `name` are the question: the column of a heading, how its cells are read (`dmy`, `mdy`, `comma`, `point in`), the "
            "word that a cell means (`kind:REP`), the text of a column that no heading gives (`{Heading}` stands for a cell)."
        ),
        list_text="What the headings, codes and times of a source mean, one row for each question.",
        key="source kind about name",
        scope=EVERYBODY,
        fields="id source kind about name answer created_at updated_at",
        write_roles=(Role.MANAGER,),
        listed=ListForm(
            filters="source kind about",
            search="name answer",
            sortable="id source",
            ordering="source kind about name",
        ),
        file=FileForm(
            order=200,
            parsers={name: cells.Text(200) for name in ("source", "kind", "name", "answer")},
        ),
    )
)
