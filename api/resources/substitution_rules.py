"""Rules for substitutes: given once, withdrawn with a reason, never changed."""

from dataclasses import replace
from typing import Any

from api.edge.auth import caller_name
from api.edge.concurrency import EtagCreateMixin
from api.edge.parsing import StrictCharField
from api.wire.records.substitution_rules import GIVEN, SUBSTITUTION_RULES
from api.wire.serializers import ActSerializer, BodySerializer, serializer_of
from api.wire.views import ReadRecordViewSet, post_action
from drives.models import SubstitutionRule
from drives.substitutes.giving_rules import give_rule, withdraw_rule

RuleSerializer = serializer_of(SUBSTITUTION_RULES)


class NewRuleSerializer(ActSerializer):
    """Without `valid_from` from today on; without `valid_until` until it is withdrawn."""

    record = replace(SUBSTITUTION_RULES, fields=GIVEN)


class WithdrawRuleSerializer(BodySerializer):
    """Why it holds no longer."""

    reason = StrictCharField(max_length=200)


class SubstitutionRuleViewSet(EtagCreateMixin, ReadRecordViewSet):
    """What an engineer decided about a substitute. Nothing is changed: withdraw it, and give another one."""

    record = SUBSTITUTION_RULES
    write_serializer_class = NewRuleSerializer

    def perform_create(self, serializer: Any) -> SubstitutionRule:
        return give_rule(**serializer.validated_data, by=caller_name(self.request))

    @post_action(WithdrawRuleSerializer, RuleSerializer)
    def withdraw(self, rule: SubstitutionRule, values: dict[str, Any]) -> None:
        """It has no effect from now on."""
        withdraw_rule(rule, by=caller_name(self.request), **values)
