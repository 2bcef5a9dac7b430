"""Put a job into the queue, or join the one that does the same work already."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from rest_framework.request import Request

from api.edge.auth import caller_id, caller_name
from api.edge.log_lines import current_id
from api.edge.scope import scope_as_json, scope_key
from api.models import BackgroundJob
from api.operations.jobs.kinds import JobKind, Parameters
from inventory.models.access_scope import AccessScope


@dataclass(frozen=True)
class Requester:
    """Who requested a job: the name to show, and the caller by id."""

    name: str
    caller: str


def requester_of(request: HttpRequest | Request) -> Requester:
    return Requester(caller_name(request), caller_id(request))


def job_key(kind: JobKind, parameters: Parameters, scope: AccessScope) -> str:
    text = json.dumps([kind.name, parameters, scope_as_json(scope)], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


def request_job(
    kind: JobKind, parameters: Mapping[str, Any], *, scope: AccessScope, by: Requester
) -> BackgroundJob:
    """The unfinished job for the same work, or a new one."""
    # The constraint decides between two requests at the same moment; the loser joins the winner's job.
    job, _ = BackgroundJob.objects.unfinished().get_or_create(
        key=job_key(kind, parameters, scope),
        defaults={
            "kind": kind.name,
            "parameters": dict(parameters),
            "scope": scope_as_json(scope),
            "scope_key": scope_key(scope),
            "requested_by_name": by.name[:150],
            "caller": by.caller,
            "request_id": current_id.get(),
        },
    )
    return job
