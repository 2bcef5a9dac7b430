"""Strict filters: an unknown parameter is refused, so that a mistyped filter never returns the whole list."""

import re
import unicodedata
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, ClassVar

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import ProhibitNullCharactersValidator
from django.db.models import Exists, Q
from django.utils import timezone
from django_filters.constants import EMPTY_VALUES
from rest_framework.filters import BaseFilterBackend
from rest_framework.request import Request

from api.edge.errors import PointedErrors, parameter_errors
from api.edge.narrowing import Chosen, narrowed
from api.edge.pagination import query_parameter, read_limit, read_ordering
from api.edge.parsing import moment, nearest
from inventory.models.text_index import has_normal_form, normal, normal_forms
from inventory.plumbing.text_search import rows_with_words

LIST_PARAMETERS = ("limit", "cursor", "ordering", "format")
MAX_TEXT = 200
MAX_WORDS = 10
MAX_VALUES = 100
NARROWED = ("exact", "gte", "lte")
PLAIN_TEXT = {"type": "string", "minLength": 1}


@dataclass(frozen=True)
class Range:
    """Plausible values of a number that can be filtered by itself, `__gte` and `__lte`."""

    low: float
    high: float
    path: str = ""
    whole: bool = False


class NumberText(forms.Field):
    """A plain ASCII number within its range."""

    def __init__(self, *, span: Range, **kwargs: Any) -> None:
        self.span = span
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> Decimal | None:
        if value in (None, ""):
            return None
        pattern = r"-?[0-9]{1,15}" if self.span.whole else r"-?[0-9]{1,15}(\.[0-9]{1,20})?"
        if not re.fullmatch(pattern, value):
            kind = "whole number" if self.span.whole else "number"
            raise ValidationError(f"A {kind} is expected.")
        number = Decimal(value)
        if not Decimal(str(self.span.low)) <= number <= Decimal(str(self.span.high)):
            raise ValidationError(f"A number from {self.span.low:g} to {self.span.high:g} is expected.")
        return number


class TruthText(forms.Field):
    def to_python(self, value: Any) -> bool | None:
        if value in (None, ""):
            return None
        if value not in ("true", "false"):
            raise ValidationError("true or false is expected.")
        return bool(value == "true")


class WordsText(forms.Field):
    """Comma list of words; with `choices`, of those words alone."""

    def __init__(self, *, choices: Collection[str] = (), **kwargs: Any) -> None:
        self.words = list(choices)
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> list[str]:
        if value in (None, ""):
            return []
        words = [word.strip() for word in value.split(",")]
        if len(words) > MAX_VALUES or any(not word or len(word) > MAX_TEXT for word in words):
            raise ValidationError(f"A comma list of at most {MAX_VALUES} short words is expected.")
        ProhibitNullCharactersValidator()(value)
        wrong = [word for word in words if self.words and word not in self.words]
        if wrong:
            near = nearest(wrong[0], self.words)
            raise ValidationError(f'"{wrong[0][:80]}" is not one of: {", ".join(self.words)}.{near}')
        return words


class MomentText(forms.Field):
    def to_python(self, value: Any) -> datetime | None:
        if value in (None, ""):
            return None
        found = moment(value)
        if found is None:
            raise ValidationError("A time with its offset is expected, such as 2026-03-01T14:30:00Z.")
        return found


class NearMomentText(MomentText):
    """A moment that answers are worked out for: at an age that no part reaches there is none."""

    most_ahead = timedelta(days=3_650)

    def to_python(self, value: Any) -> datetime | None:
        found = super().to_python(value)
        if found is not None and found > timezone.now() + self.most_ahead:
            raise ValidationError("A moment at most ten years ahead is expected.")
        return found


class DayText(forms.Field):
    def to_python(self, value: Any) -> date | None:
        if value in (None, ""):
            return None
        try:
            if len(value) == 10:
                return date.fromisoformat(value)
        except ValueError:
            pass
        raise ValidationError("A date is expected, such as 2026-03-01.")


class NarrowingFilter(django_filters.Filter):  # type: ignore[misc]
    def choose(self, chosen: Chosen, value: Any) -> Chosen:
        if self.lookup_expr in NARROWED and not self.exclude and not self.method:
            return narrowed(chosen, self.field_name, self.lookup_expr, value)
        rows = self.filter(chosen.rows, value)
        return chosen if rows is chosen.rows else chosen.among_rows(rows)


class NumberFilter(NarrowingFilter):
    field_class = NumberText


class TruthFilter(NarrowingFilter):
    field_class = TruthText


class MomentFilter(NarrowingFilter):
    field_class = MomentText


class DayFilter(NarrowingFilter):
    field_class = DayText


class WordsFilter(NarrowingFilter):
    """One word or a comma list; the row must have one of them. Also for natural keys and ids as text."""

    field_class = WordsText

    def choose(self, chosen: Chosen, value: list[str]) -> Chosen:
        return (
            super().choose(chosen, value) if self.method else narrowed(chosen, self.field_name, "in", value)
        )


class IdsFilter(WordsFilter):
    """Comma list of ids; what is no id is nowhere."""

    def choose(self, chosen: Chosen, value: list[str]) -> Chosen:
        known = [int(one) for one in value if one.isascii() and one.isdigit() and len(one) < 19]
        return narrowed(chosen, f"{self.field_name}__id", "in", known)


class ConditionFilter(TruthFilter):
    """Rows for which a condition is true, or is not."""

    def __init__(self, condition: Callable[[], Q | Exists], **kwargs: Any) -> None:
        self.condition = condition
        super().__init__(**kwargs)

    def choose(self, chosen: Chosen, value: bool) -> Chosen:
        return chosen.among_many(Q(self.condition()) if value else ~Q(self.condition()))


class StrictFilterSet(django_filters.FilterSet):  # type: ignore[misc]
    """Explicit filters; `numbers` makes three of each number, `moments` and `days` two of each, `search_fields` answers `q`."""

    numbers: ClassVar[Mapping[str, Range]] = {}
    moments: ClassVar[Mapping[str, str]] = {}
    days: ClassVar[Collection[str]] = ()
    search_fields: ClassVar[Collection[str]] = ()
    search_text: ClassVar[str] = "Words that must all occur."
    base_filters: Any

    def __init__(self, data: Any = None, *args: Any, **kwargs: Any) -> None:
        # A filter that is not asked for changes nothing, and a list has up to eighty: each would be copied in every request.
        self.base_filters = {
            name: one for name, one in type(self).base_filters.items() if name in (data or ())
        }
        super().__init__(data, *args, **kwargs)

    @classmethod
    def get_filters(cls) -> Any:
        filters = super().get_filters()
        for name, span in cls.numbers.items():
            for suffix in ("", "__gte", "__lte"):
                lookup = suffix.removeprefix("__") or "exact"
                filters[name + suffix] = NumberFilter(span.path or name, lookup_expr=lookup, span=span)
        for name, path in cls.moments.items():
            for lookup in ("gte", "lte"):
                filters[f"{name}__{lookup}"] = MomentFilter(path or name, lookup_expr=lookup)
        for name in cls.days:
            for lookup in ("gte", "lte"):
                filters[f"{name}__{lookup}"] = DayFilter(name, lookup_expr=lookup)
        return filters

    @classmethod
    def can_search(cls) -> bool:
        return bool(cls.search_fields) or cls.search is not StrictFilterSet.search

    @classmethod
    def names(cls) -> list[str]:
        return [*cls.base_filters, *(["q"] if cls.can_search() else [])]

    def choose(self, text: str) -> Chosen:
        chosen = Chosen(self.queryset, self.queryset)
        for name, value in self.form.cleaned_data.items():
            if value not in EMPTY_VALUES:
                chosen = self.filters[name].choose(chosen, value)
        return self.search(chosen, text) if text else chosen

    def search(self, chosen: Chosen, text: str) -> Chosen:
        """Rows in which every word of the text occurs in one of the search fields, or that are called so, however it is spaced."""
        words, model = unicodedata.normalize("NFC", text).split(), chosen.rows.model
        occurs = Q()
        for word in words:
            # SQLite compares the letters of ASCII alone in any case.
            cases = {word} if word.isascii() else {word, word.lower(), word.upper()}
            found = [Q(**{f"{path}__icontains": one}) for path in self.search_fields for one in sorted(cases)]
            occurs &= Q(*found, _connector=Q.OR)
        names = [path for path in self.search_fields if has_normal_form(model, path)]
        called = [Q(**{f"{path}__normal__in": normal_forms(text)}) for path in names if normal(text)]
        chosen = chosen.among_many(Q(occurs, *called, _connector=Q.OR))
        keys = rows_with_words(model, self.search_fields, [[word] for word in words])
        return chosen if keys is None else chosen.with_keys(keys)


def query_faults(request: Request, known: Collection[str]) -> dict[str, str | list[str]]:
    """Query parameters that are unknown, repeated, empty or hold NUL, with a sentence each."""
    wrong: dict[str, str | list[str]] = {}
    for name, values in request.query_params.lists():
        if name not in known:
            wrong[name[:80]] = f"There is no such parameter.{nearest(name, known)}"
        elif len(values) > 1:
            wrong[name] = "It is given more than once; a comma list takes several values."
        elif not values[0].strip():
            wrong[name] = "It has no value; leave it out instead."
        elif "\x00" in values[0]:
            wrong[name] = "Text must not contain the character NUL."
    return wrong


def check_query(request: Request, known: Collection[str]) -> None:
    if wrong := query_faults(request, known):
        raise parameter_errors(wrong)


def page_faults(request: Request, view: Any) -> dict[str, str | list[str]]:
    """Errors in `limit` and `ordering`, reported together with bad filters."""
    wrong: dict[str, str | list[str]] = {}
    for check in (lambda: read_limit(request), lambda: read_ordering(request, view)):
        try:
            check()
        except PointedErrors as error:
            wrong |= {row["parameter"]: row["detail"] for row in error.rows}
    return wrong


def form_errors(form: forms.Form) -> dict[str, str | list[str]]:
    return {name: [str(text) for text in texts] for name, texts in form.errors.items()}


def read_query(request: Request, form_class: type[forms.Form]) -> dict[str, Any]:
    """Cleaned query parameters of an address that is no list: `NumberText`, `TruthText`, ... in a Django form."""
    form = form_class(request.query_params)
    if wrong := form_errors(form) | query_faults(request, [*form_class.base_fields, "format"]):
        raise parameter_errors(wrong)
    return form.cleaned_data


@dataclass(frozen=True)
class Listing:
    """How a list below a record (`items/{id}/movements/`) is filtered and ordered."""

    filterset_class: type[StrictFilterSet] | None = None
    ordering_fields: Collection[str] | Mapping[str, str] = ()
    ordering: str | Collection[str] = ()
    query_parameters: Collection[str] = ()


def filter_strictly(request: Request, queryset: Any, view: Any) -> Any:
    """Rows that pass the filters of a view or a `Listing`; all that is wrong with the query is named."""
    filterset_class: type[StrictFilterSet] | None = getattr(view, "filterset_class", None)
    own = filterset_class.names() if filterset_class else []
    known = [*own, *LIST_PARAMETERS, *getattr(view, "query_parameters", ())]
    wrong = page_faults(request, view) | query_faults(request, known)
    text = request.query_params.get("q", "")
    if len(text) > MAX_TEXT or len(text.split()) > MAX_WORDS:
        wrong["q"] = f"At most {MAX_WORDS} words and {MAX_TEXT} characters are searched."
    filterset: StrictFilterSet | None = None
    if filterset_class:
        filterset = filterset_class(request.query_params, queryset=queryset, request=request)
        wrong = form_errors(filterset.form) | wrong
    if wrong:
        raise parameter_errors(wrong)
    return filterset.choose(text) if filterset else Chosen(queryset, queryset)


class StrictFilterBackend(BaseFilterBackend):
    """Reads `filterset_class` of the view; a single record is found by its address alone."""

    def filter_queryset(self, request: Request, queryset: Any, view: Any) -> Any:
        if (getattr(view, "lookup_url_kwarg", None) or getattr(view, "lookup_field", "")) in view.kwargs:
            return queryset
        return filter_strictly(request, queryset, view)

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:
        filterset_class: type[StrictFilterSet] | None = getattr(view, "filterset_class", None)
        if filterset_class is None:
            return []
        described = [describe(name, one) for name, one in filterset_class.base_filters.items()]
        if filterset_class.can_search():
            text = {"type": "string", "minLength": 1, "maxLength": MAX_TEXT}
            described.append(query_parameter("q", text, filterset_class.search_text))
        return described


def describe(name: str, one: Any) -> dict[str, Any]:
    """OpenAPI parameter of a filter of a set, or of a field of a query form."""
    extra = one.extra if isinstance(one, django_filters.Filter) else vars(one)
    kind = one.field_class if isinstance(one, django_filters.Filter) else type(one)
    text = str(extra.get("help_text") or "")
    words = list(extra.get("choices") or extra.get("words") or ())
    schemas: dict[type, dict[str, Any]] = {
        TruthText: {"type": "boolean"},
        MomentText: {"type": "string", "format": "date-time"},
    }
    schema = number_schema(extra["span"]) if kind is NumberText else schemas.get(kind, PLAIN_TEXT)
    if words:
        text = f"{text} Comma list of {', '.join(words)}.".strip()
    needed = not isinstance(one, django_filters.Filter) and bool(one.required)
    return query_parameter(name, schema, text) | {"required": needed}


def number_schema(span: Range) -> dict[str, Any]:
    return {"type": "integer" if span.whole else "number", "minimum": span.low, "maximum": span.high}
