"""A manager's decision on a recommendation, read from the form on its page."""

import re

from django.http import QueryDict
from django.utils.translation import gettext as _

from api.edge.change_log import logging_policy_decision
from api.screens.acts import FieldsRefused
from api.wording.sentences import sentence
from inventory.models import Recommendation
from inventory.planning.decide import DecisionUnsound, accept, amend, decline
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


def decide(recommendation: Recommendation, form: QueryDict, *, by: str) -> str:
    decision = form.get("decision", "")
    sent = {name: form.get(name, "").strip() for name in ("reorder_point", "order_up_to", "reason")}
    try:
        with logging_policy_decision(recommendation):
            _decide(recommendation, decision, sent, by=by)
    except DecisionUnsound as unsound:
        raise FieldsRefused((FIELDS[decision, unsound.field], sentence(unsound.fact))) from unsound
    return _("Decided.")


def _decide(recommendation: Recommendation, decision: str, sent: dict[str, str], *, by: str) -> None:
    if decision == "accept":
        accept(recommendation, by=by)
    elif decision == "decline":
        decline(recommendation, by=by, reason=sent["reason"])
    elif decision == "none":
        levels = {"reorder_point": HOLD_NONE.reorder_point, "order_up_to": HOLD_NONE.order_up_to}
        amend(recommendation, by=by, reason=sent["reason"], **levels)
    elif decision == "amend":
        amend(recommendation, by=by, reason=sent["reason"], **_levels(sent))
    else:
        raise FieldsRefused(("decide", _("Choose one of the decisions.")))


def _levels(sent: dict[str, str]) -> dict[str, int]:
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
        raise FieldsRefused(*faults)
    return {name: int(sent[name]) for name in ("reorder_point", "order_up_to")}
