"""Every row of the edges: who may do what, what callers did, jobs, imports, answers about sources, webhooks."""

from api.models.access import TOLD_BEFORE, AccessToken, AccessTokenQuerySet, Reach, Role, digest
from api.models.calls import Change, IdempotencyRecord, LoginAttempt, RateCount
from api.models.import_runs import ImportFile, ImportRun, ImportState
from api.models.import_sets import (
    ImportedChange,
    ImportSet,
    ImportSetState,
    ImportSheet,
    SentFile,
    SentFilePart,
)
from api.models.jobs import AnswerLines, BackgroundJob, BackgroundJobQuerySet, ExposureLine, JobState
from api.models.sources import AnswerAbout, SourceAnswer
from api.models.webhooks import Delivery, DeliveryState, Webhook, WebhookState
