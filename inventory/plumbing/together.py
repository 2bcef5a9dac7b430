"""Migrations of many operations, of which all models are made again once and not once for each: most of their time."""

from collections.abc import Sequence
from typing import Any

from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState


class Together(Operation):
    def __init__(self, operations: Sequence[Operation]) -> None:
        self.operations = list(operations)

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        is_rendered = state.__dict__.pop("apps", None) is not None
        for operation in self.operations:
            operation.state_forwards(app_label, state)
        if is_rendered:
            state.apps  # noqa: B018 - made here, before the state is copied for the next operation

    def references_model(self, *words: Any) -> bool:
        return any(operation.references_model(*words) for operation in self.operations)


class AlterTexts(Together):
    """What only people read: texts, choices and messages, of which the database knows nothing."""

    reduces_to_sql = False

    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        pass

    database_backwards = database_forwards

    def describe(self) -> str:
        return "Alter texts"


class AddIndexes(Together):
    """`AddIndex` of columns that are there before; each reads no more of its model than the names of table and columns."""

    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        for operation in self.operations:
            operation.database_forwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        for operation in reversed(self.operations):
            operation.database_backwards(app_label, schema_editor, from_state, to_state)

    def describe(self) -> str:
        return f"Add {len(self.operations)} indexes"
