"""Accounts, tokens and webhooks: shown to managers and to their owners."""

from django.contrib.auth.models import Group, User

from api.edge.declarations import EVERYBODY, Declaration, declare
from api.models import AccessToken, Delivery, ImportRun, Reach, Webhook
from api.wire.declaration import WireRecord

USERS = declare(Declaration(User, key="username"))
GROUPS = declare(Declaration(Group, key="name"))
TOKENS = declare(Declaration(AccessToken, key="name prefix"))
REACHES = declare(Declaration(Reach, log_key="user__username token__name token__prefix"))
# Their views show a caller with limits its own alone.
WEBHOOKS = declare(WireRecord(Webhook, path="webhooks", log_key="url", scope=EVERYBODY))
DELIVERIES = declare(Declaration(Delivery, scope=EVERYBODY, is_logged=False))
IMPORTS = declare(WireRecord(ImportRun, path="imports", scope=EVERYBODY, is_logged=False))
