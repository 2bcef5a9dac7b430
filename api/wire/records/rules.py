"""Rules: thresholds of the verdict that this plant sets otherwise than they are shipped."""

from dataclasses import fields
from typing import Any, cast

from rest_framework import serializers
from rest_framework.validators import UniqueValidator

from api.edge.declarations import EVERYBODY
from api.edge.filtering import WordsFilter
from api.edge.parsing import StrictChoiceField, StrictFloatField
from api.wire import cells
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from api.wire.serializers import MemberErrors, RecordSerializer
from inventory.interchange.thresholds import ESTIMATES, Thresholds, range_of
from inventory.models import Rule

SHIPPED: dict[str, float] = {spec.name: getattr(Thresholds(), spec.name) for spec in fields(Thresholds)}
GREATEST_VALUE = 1e6

RULES = declare(
    WireRecord(
        Rule,
        path="rules",
        list_text="Where one outcome of a check ends and the next begins, as set here.",
        key="name",
        scope=EVERYBODY,
        fields="id name value note shipped_value source_kind plausible_low plausible_high created_at updated_at",
        listed=ListForm(
            more={"name": WordsFilter()},
            search="name note",
            sortable="name updated_at",
            ordering="name",
        ),
        file=FileForm(order=70, parsers={"name": cells.Code(60, words_only=True)}),
    )
)


class RuleSerializer(RecordSerializer):
    """A threshold by name; `shipped_value` is the one that it stands in for.

    `source_kind` and the plausible span are those of a shipped value that no source shows, else null.
    """

    record = RULES
    name = StrictChoiceField(choices=list(SHIPPED), validators=[UniqueValidator(Rule.objects.all())])
    value = StrictFloatField(min_value=0, max_value=GREATEST_VALUE)
    shipped_value = serializers.SerializerMethodField()
    source_kind = serializers.SerializerMethodField()
    plausible_low = serializers.SerializerMethodField()
    plausible_high = serializers.SerializerMethodField()

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        found = super().check_members(values, faults)
        draft = cast(Rule, self.draft(values))
        if isinstance(SHIPPED.get(draft.name), int) and draft.value != int(draft.value or 0):
            found["value"] = [f"{draft.name} counts: give a whole number."]
        least, most = range_of(draft.name) if draft.name in SHIPPED else (0, GREATEST_VALUE)
        if draft.value is not None and not least <= draft.value <= most:
            found["value"] = [f"{draft.name} must be from {least:g} to {most:g}."]
        return found

    def get_source_kind(self, rule: Rule) -> str | None:
        return ESTIMATES[rule.name].kind.value if rule.name in ESTIMATES else None

    def get_plausible_low(self, rule: Rule) -> float | None:
        return ESTIMATES[rule.name].low if rule.name in ESTIMATES else None

    def get_plausible_high(self, rule: Rule) -> float | None:
        return ESTIMATES[rule.name].high if rule.name in ESTIMATES else None

    def get_shipped_value(self, rule: Rule) -> float | None:
        return SHIPPED.get(rule.name)
