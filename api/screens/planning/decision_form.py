"""A manager's decision on a recommendation, read from the form on its page."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from django.http import QueryDict
from django.utils.translation import gettext as _

from api.edge.change_log import logging_policy_decision
from api.wording.sentences import sentence
from inventory.models import Recommendation, RecommendationState, StockPolicy
from inventory.planning.decide import DecisionRefused, DecisionUnsound, accept, amend, decline
from inventory.planning.policy_inputs import HOLD_NONE

WHOLE = re.compile(r"-?[0-9]{1,7}")
FIELDS = {
    ("amend", "reorder_point"): "amend-reorder-point",
    ("amend", "order_up_to"): "amend-order-up-to",
    ("amend", "reason"): "amend-reason",
    ("none", "reason"): "none-reason",
    ("decline", "reason"): "decline-reason",
}
"""The ids of the fields on the page."""
STATES = {
    "accept": RecommendationState.ACCEPTED,
    "amend": RecommendationState.AMENDED,
    "none": RecommendationState.AMENDED,
    "decline": RecommendationState.DECLINED,
}


@dataclass(frozen=True)
class DecisionAttempt:
    """What was sent and what was wrong with it; without faults it is decided."""

    decision: str = ""
    sent: Mapping[str, str] = field(default_factory=dict)
    faults: tuple[tuple[str, str], ...] = ()
    refusal: str = ""

    @property
    def is_done(self) -> bool:
        return bool(self.decision) and not self.faults and not self.refusal

    @property
    def status(self) -> int:
        """Of the page that shows it: what was refused set nothing."""
        return 409 if self.refusal else 400 if self.faults else 200

    def is_repeat_of(self, record: Recommendation, *, by: str) -> bool:
        """Whether the same person sent the same decision before: a second click is no fault."""
        decided = (record.state, record.decided_by_name) == (STATES.get(self.decision), by)
        if not self.refusal or not decided or self.decision == "accept":
            return bool(self.refusal) and decided
        if record.decision_reason != self.sent["reason"]:
            return False
        policy = StockPolicy.objects.filter(item=record.item_id, storeroom=record.storeroom_id).first()
        levels = (policy.reorder_point, policy.order_up_to) if policy else None
        wanted = {"none": (HOLD_NONE.reorder_point, HOLD_NONE.order_up_to), "decline": levels}
        return levels == wanted.get(self.decision, self.levels)

    @property
    def levels(self) -> tuple[int, int] | None:
        texts = self.sent["reorder_point"], self.sent["order_up_to"]
        return (int(texts[0]), int(texts[1])) if all(map(WHOLE.fullmatch, texts)) else None

    @property
    def fault_of(self) -> dict[str, str]:
        """The fault of each field; a template needs underscores for dashes."""
        return {name.replace("-", "_"): fault for name, fault in self.faults}


def decide(recommendation: Recommendation, form: QueryDict, *, by: str) -> DecisionAttempt:
    decision = form.get("decision", "")
    sent = {name: form.get(name, "").strip() for name in ("reorder_point", "order_up_to", "reason")}
    try:
        with logging_policy_decision(recommendation):
            return _decided(recommendation, decision, sent, by=by)
    except DecisionUnsound as unsound:
        return DecisionAttempt(decision, sent, ((FIELDS[decision, unsound.field], sentence(unsound.fact)),))
    except DecisionRefused as refused:
        return DecisionAttempt(decision, sent, refusal=sentence(refused.fact))


def _decided(
    recommendation: Recommendation, decision: str, sent: dict[str, str], *, by: str
) -> DecisionAttempt:
    if decision == "accept":
        accept(recommendation, by=by)
    elif decision == "decline":
        decline(recommendation, by=by, reason=sent["reason"])
    elif decision == "none":
        _stock_none(recommendation, sent["reason"], by=by)
    elif decision == "amend":
        return _amended(recommendation, sent, by=by)
    else:
        return DecisionAttempt(decision, sent, (("decide", _("Choose one of the decisions.")),))
    return DecisionAttempt(decision, sent)


def _stock_none(recommendation: Recommendation, reason: str, *, by: str) -> None:
    levels = {"reorder_point": HOLD_NONE.reorder_point, "order_up_to": HOLD_NONE.order_up_to}
    amend(recommendation, by=by, reason=reason, **levels)


def _amended(recommendation: Recommendation, sent: dict[str, str], *, by: str) -> DecisionAttempt:
    faults = [
        (FIELDS["amend", name], fault)
        for name, fault in (
            ("reorder_point", _("Reorder point must be a whole number.")),
            ("order_up_to", _("Order up to must be a whole number.")),
        )
        if not WHOLE.fullmatch(sent[name])
    ]
    if not sent["reason"]:
        faults.append(
            (FIELDS["amend", "reason"], _("Say why you set these levels instead of the recommended ones."))
        )
    if faults:
        return DecisionAttempt("amend", sent, tuple(faults))
    amend(
        recommendation,
        by=by,
        reorder_point=int(sent["reorder_point"]),
        order_up_to=int(sent["order_up_to"]),
        reason=sent["reason"],
    )
    return DecisionAttempt("amend", sent)
