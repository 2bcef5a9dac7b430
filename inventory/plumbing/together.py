"""Tables of one migration, of which all models are made once and not once for each table: most of its time."""

from collections.abc import Sequence
from typing import Any

from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations import CreateModel
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState


class CreateModels(Operation):
    """`CreateModel` for each, in any order: keys may point to tables that come after them."""

    def __init__(self, operations: Sequence[CreateModel]) -> None:
        self.operations = list(operations)

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        is_rendered = state.__dict__.pop("apps", None) is not None
        for operation in self.operations:
            operation.state_forwards(app_label, state)
        if is_rendered:
            state.apps  # noqa: B018 - made here, before the state is copied for the next operation

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
            model = from_state.apps.get_model(app_label, operation.name)
            # An index of texts has tables or functions of its own, which would stay when the table goes.
            for index in model._meta.indexes:
                schema_editor.remove_index(model, index)
            operation.database_backwards(app_label, schema_editor, from_state, to_state)

    def references_model(self, *words: Any) -> bool:
        return any(operation.references_model(*words) for operation in self.operations)

    def describe(self) -> str:
        return "Create models " + ", ".join(operation.name for operation in self.operations)
