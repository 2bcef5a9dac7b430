"""Boxes of the administration that choose another record: what is sent and can be no key chooses nothing, and the form says so."""

from typing import Any

from django.contrib.admin.widgets import AutocompleteSelect, AutocompleteSelectMultiple
from django.core.exceptions import ValidationError


class KnownKeys:
    """Goes before a widget, which asks the database for whatever was sent when it shows the form again."""

    field: Any

    def optgroups(self, name: str, value: list[Any], attr: Any = None) -> Any:
        return super().optgroups(name, [one for one in value if self.can_be_key(one)], attr)  # type: ignore[misc]

    def can_be_key(self, value: Any) -> bool:
        try:
            self.field.target_field.clean(value, None)
        except ValidationError:
            return False
        return True


class RecordBox(KnownKeys, AutocompleteSelect):  # type: ignore[misc]
    pass


class RecordsBox(KnownKeys, AutocompleteSelectMultiple):  # type: ignore[misc]
    pass


class ChoosesKnownKeys:
    """Goes before the class of a page."""

    admin_site: Any

    def formfield_for_foreignkey(self, db_field: Any, request: Any, **options: Any) -> Any:
        if db_field.name in self.get_autocomplete_fields(request):  # type: ignore[attr-defined]
            options.setdefault("widget", RecordBox(db_field, self.admin_site, using=options.get("using")))
        return super().formfield_for_foreignkey(db_field, request, **options)  # type: ignore[misc]

    def formfield_for_manytomany(self, db_field: Any, request: Any, **options: Any) -> Any:
        if db_field.name in self.get_autocomplete_fields(request):  # type: ignore[attr-defined]
            options.setdefault("widget", RecordsBox(db_field, self.admin_site, using=options.get("using")))
        return super().formfield_for_manytomany(db_field, request, **options)  # type: ignore[misc]
