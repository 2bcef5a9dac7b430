"""A manager's answer to a recommendation, read from the form on its page."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from django.http import QueryDict

from api.edge.change_log import logging_policy_decision
from api.wording.sentences import sentence
from inventory.models import Recommendation
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


@dataclass(frozen=True)
class DecisionAttempt:
    """What was sent and what was wrong with it; nothing wrong: it is decided."""

    decision: str = ""
    sent: Mapping[str, str] = field(default_factory=dict)
    faults: tuple[tuple[str, str], ...] = ()
    refusal: str = ""

    @property
    def is_done(self) -> bool:
        return bool(self.decision) and not self.faults and not self.refusal

    @property
    def fault_of(self) -> dict[str, str]:
        """The sentence for each field, its dashes as underscores."""
        return {name.replace("-", "_"): sentence for name, sentence in self.faults}


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
        _keep_none(recommendation, sent["reason"], by=by)
    elif decision == "amend":
        return _amended(recommendation, sent, by=by)
    else:
        return DecisionAttempt(decision, sent, (("decide", "Choose one of the answers."),))
    return DecisionAttempt(decision, sent)


def _keep_none(recommendation: Recommendation, reason: str, *, by: str) -> None:
    none = HOLD_NONE
    amend(
        recommendation, by=by, reorder_point=none.reorder_point, order_up_to=none.order_up_to, reason=reason
    )


def _amended(recommendation: Recommendation, sent: dict[str, str], *, by: str) -> DecisionAttempt:
    faults = [
        (FIELDS["amend", name], f"{words} must be a whole number.")
        for name, words in (("reorder_point", "Reorder point"), ("order_up_to", "Order up to"))
        if not WHOLE.fullmatch(sent[name])
    ]
    if not sent["reason"]:
        faults.append((FIELDS["amend", "reason"], "Say why these levels and not the recommended ones."))
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
