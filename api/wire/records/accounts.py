"""Accounts, tokens and webhooks: shown to managers and to their owners."""

from django.contrib.auth.models import Group, User

from api.edge.auth import STOCK_ROLES
from api.edge.declarations import EVERYBODY, Declaration, declare
from api.models import AccessToken, Delivery, ImportRun, Reach, Webhook
from api.wire.declaration import ListForm, WireRecord

USERS = declare(Declaration(User, key="username"))
GROUPS = declare(Declaration(Group, key="name"))
TOKENS = declare(Declaration(AccessToken, key="name prefix"))
REACHES = declare(Declaration(Reach, log_key="user__username token__name token__prefix"))
# Their views show a caller with limits its own alone.
WEBHOOKS = declare(
    WireRecord(
        Webhook,
        path="webhooks",
        log_key="url",
        scope=EVERYBODY,
        fields=(
            "id url description types state state_reason failing_since quiet_until previous_secret_until owner "
            "created_at updated_at"
        ),
        read_roles=("manager", "integration"),
        listed=ListForm(filters="state", search="url description", sortable="id created_at", ordering="id"),
    )
)
DELIVERIES = declare(
    WireRecord(
        Delivery,
        path="",
        scope=EVERYBODY,
        is_logged=False,
        fields=(
            "id event type=event.type aggregate=event.aggregate version sequence state attempts next_attempt_at "
            "last_attempt_at last_status last_error delivered_at"
        ),
        listed=ListForm(
            filters="state type=event__type aggregate=event__aggregate",
            moments="next_attempt_at delivered_at",
            sortable="id next_attempt_at",
            ordering="-id",
        ),
    )
)
IMPORTS = declare(
    WireRecord(
        ImportRun,
        path="imports",
        scope=EVERYBODY,
        is_logged=False,
        fields=(
            "id kind file_name source state dry_run partial written progress created updated unchanged rejected problems notes by "
            "created_at finished_at"
        ),
        write_roles=STOCK_ROLES,
        listed=ListForm(
            filters="dry_run", moments="created_at", sortable="created_at", ordering="-created_at"
        ),
    )
)
