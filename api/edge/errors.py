"""Every refusal in one shape: application/problem+json (RFC 9457), with a pointer for each bad field."""

import json
import logging
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cache
from typing import Any

from django.apps import apps
from django.core import exceptions as django_exceptions
from django.core.exceptions import NON_FIELD_ERRORS
from django.db import DataError, IntegrityError, InterfaceError, OperationalError, models
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, HttpResponseServerError
from django.template.loader import render_to_string
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views import defaults
from rest_framework import exceptions
from rest_framework.exceptions import APIException, ErrorDetail, ValidationError
from rest_framework.request import Request
from rest_framework.settings import api_settings

from api.edge.log_lines import first_line, unless_away
from api.edge.scope import is_visible
from api.wording.record_kinds import kind_for_programs
from api.wording.sentences import SENTENCES, sentence
from drives.feed.quarantine import NotWaiting
from drives.service_record.history import InstallationsOverlap, NothingFitted, UnitFitted
from drives.service_record.pieces_out import PieceInMachine
from drives.service_record.requests import AlreadyRetracted, ReferenceTaken
from inventory.facts import Fact, Refusal, fact
from inventory.models.messages import fact_of_invalid
from inventory.number_checks import InvalidNumber
from inventory.stores.counting.counts import CountDone, CountedSince
from inventory.stores.deliveries import DeliveryKnown, NotSoManyHeld, OrderNotOpen
from inventory.stores.kits import KitEnded, KitExists

logger = logging.getLogger(__name__)

CONTENT_TYPE = "application/problem+json"
API_PREFIX = "/api/"
BLOCKERS_NAMED = 5
MOST_BLOCKERS_LOOKED_AT = 50

# status: (last part of the type address, title)
KINDS = {
    400: ("validation", "The request is not understood"),
    401: ("authentication", "Credentials are missing or not valid"),
    403: ("permission", "This is not permitted"),
    404: ("not-found", "There is nothing at this address"),
    405: ("method", "This address does not take that method"),
    406: ("not-acceptable", "The answer cannot be given in that form"),
    409: ("conflict", "The present state does not allow this"),
    412: ("precondition-failed", "The record has changed since it was read"),
    413: ("too-large", "The body is too large"),
    415: ("media-type", "The body has a content type that is not read here"),
    422: ("idempotency-mismatch", "The idempotency key was used for another request"),
    428: ("precondition-required", "If-Match is needed"),
    429: ("too-many-requests", "Too many requests"),
    500: ("internal", "The service failed"),
    503: ("unavailable", "The service cannot answer now"),
}

CONFLICTS: dict[type[Refusal], str] = {
    CountDone: "",
    CountedSince: "",
    KitExists: "kit",
    KitEnded: "",
    UnitFitted: "installation",
    InstallationsOverlap: "installation",
    NothingFitted: "",
    PieceInMachine: "installation",
    ReferenceTaken: "request",
    AlreadyRetracted: "",
    NotWaiting: "",
    OrderNotOpen: "",
    DeliveryKnown: "delivery_check",
    NotSoManyHeld: "",
}
"""Refusals by the present state, each with the record in the way; any other refusal of a writer names a bad member."""
FORMS = "Ask for application/json in Accept or for ?format=json; a list also comes as text/csv (?format=csv) and as XLSX (?format=xlsx)."
MEMBERS = {"stock_entry": "movement", "pieces": "piece_links"}
"""Where the writer's word for a field is not the name of the member."""

TAKEN_OUT_OF_REACH = (
    "A record with this key exists already, out of reach of these credentials: use a key of your own."
)
"""Whose it is, is not told."""


class Conflict(APIException):
    """The state does not allow it; extra members (`remedies=[...]`) go into the answer beside the sentence."""

    status_code = 409
    default_code = "conflict"

    def __init__(self, detail: str, **extra: object) -> None:
        super().__init__(detail)
        self.extra = extra


class PreconditionRequired(APIException):
    status_code = 428
    default_detail = "Send the ETag of the record as If-Match, so that no change of another caller is lost."
    default_code = "precondition_required"


class PreconditionFailed(APIException):
    status_code = 412
    default_detail = "The record was changed after it was read; read it again and repeat the change."
    default_code = "precondition_failed"


class IdempotencyMismatch(APIException):
    status_code = 422
    default_detail = "This idempotency key belongs to another request; use a new key for a new request."
    default_code = "idempotency_mismatch"


class PayloadTooLarge(APIException):
    status_code = 413
    default_detail = "The body is larger than this service reads."
    default_code = "too_large"


class Unavailable(APIException):
    status_code = 503
    default_detail = _("The database cannot be reached or is too busy; try again shortly.")
    default_code = "unavailable"
    wait = 5


Message = str | Fact


def said(message: Message) -> dict[str, Any]:
    if isinstance(message, Fact):
        return {"detail": sentence(message), **message.as_json()}
    return {"detail": message}


class PointedErrors(APIException):
    """Bad fields, each with its pointer; `parameters` says that the pointers name query parameters.

    `code` and `values` go into the row of each sentence that comes without a fact.
    """

    status_code = 400
    default_code = "invalid"

    def __init__(
        self,
        messages: Mapping[str, Message | Sequence[Message]],
        *,
        parameters: bool = False,
        code: str = "invalid",
        values: Mapping[str, Any] | None = None,
    ) -> None:
        self.rows: list[dict[str, Any]] = [
            {"pointer": at, "code": code, "values": dict(values or {}), **said(message)}
            for at, found in messages.items()
            for message in ([found] if isinstance(found, str | Fact) else found)
        ]
        if parameters:
            self.rows = [row | {"parameter": row["pointer"].removeprefix("/")} for row in self.rows]
        super().__init__(summary(self.rows))


def field_errors(messages: Mapping[str, Message | Sequence[Message]]) -> PointedErrors:
    """400 for the pointers given: `raise field_errors({"/lines/3": "..."})`."""
    return PointedErrors(messages)


def parameter_errors(messages: Mapping[str, Message | Sequence[Message]]) -> PointedErrors:
    """400 for the query parameters given by name."""
    return PointedErrors({pointer(name): text for name, text in messages.items()}, parameters=True)


def pointer(*parts: str | int) -> str:
    """JSON pointer (RFC 6901) to a member."""
    return "".join("/" + str(part).replace("~", "~0").replace("/", "~1") for part in parts)


@contextmanager
def core_refusals(*at: str | int) -> Iterator[None]:
    """Turn the ValueError of a core, which names its parameter in backticks, into 400 with a pointer."""
    try:
        yield
    except Refusal as refusal:
        raise field_refusal(refusal, *at, refusal.field) from refusal
    except (ValueError, OverflowError) as error:
        named = re.search(r"`(\w+)`", str(error))
        parts = (*at, named.group(1)) if named else at
        known: dict[str, Any] = (
            {"code": error.code, "values": error.values} if isinstance(error, InvalidNumber) else {}
        )
        raise PointedErrors({pointer(*parts): str(error)}, **known) from error


def summary(rows: list[dict[str, Any]]) -> str:
    if not rows:
        return "The request is not understood."
    first = f"{rows[0]['pointer'].removeprefix('/')}: {rows[0]['detail']}".removeprefix(": ")
    return first if len(rows) == 1 else f"{first} ({len(rows)} fields to correct in all)"


def flatten(detail: Any, at: str = "") -> Iterator[tuple[str, ErrorDetail | str]]:
    """Each sentence of a serializer's error tree with the pointer to where it belongs."""
    if isinstance(detail, dict):
        for key, value in detail.items():
            whole = key in (api_settings.NON_FIELD_ERRORS_KEY, NON_FIELD_ERRORS)
            yield from flatten(value, at if whole else at + pointer(key))
    elif isinstance(detail, list | tuple):
        for index, value in enumerate(detail):
            yield from flatten(value, at + pointer(index) if isinstance(value, dict | list) else at)
    else:
        yield at, detail


def translate(error: BaseException) -> APIException | None:
    """The answerable form of an exception; None for one that is a fault of the service."""
    if isinstance(error, exceptions.NotAcceptable):
        return exceptions.NotAcceptable(FORMS)
    if isinstance(error, APIException):
        return error
    if isinstance(error, Refusal):
        return from_refusal(error)
    if isinstance(error, Http404):
        return exceptions.NotFound("It does not exist, or may not be seen with these credentials.")
    if isinstance(error, django_exceptions.PermissionDenied):
        return exceptions.PermissionDenied()
    if isinstance(error, django_exceptions.RequestDataTooBig):
        return PayloadTooLarge()
    if isinstance(error, django_exceptions.SuspiciousOperation):
        return exceptions.ParseError("The request is not well formed.")
    if isinstance(error, django_exceptions.ValidationError):
        return from_model_validation(error)
    if isinstance(error, models.ProtectedError | models.RestrictedError):
        return from_blockers(error)
    return from_database(error)


def from_refusal(refusal: Refusal) -> APIException:
    """400 for the field that has to change, or 409 for a refusal by the present state or without a field."""
    name = CONFLICTS.get(type(refusal), "" if not refusal.field else None)
    if name is None:
        return field_refusal(refusal, MEMBERS.get(refusal.field, refusal.field))
    if not name:
        return state_refusal(refusal)
    standing = getattr(refusal, name)
    return (
        state_refusal(refusal, **{name: standing.pk})
        if is_visible(standing)
        else Conflict(TAKEN_OUT_OF_REACH)
    )


def field_refusal(refusal: Refusal, *at: str | int) -> PointedErrors:
    """400 with the sentence of the refusal, its code and its values, at the field that has to change."""
    where = pointer(*(at or (refusal.field,)))
    return PointedErrors({where: refusal.fact})


def state_refusal(refusal: Refusal, **extra: object) -> Conflict:
    """409 with the sentence of the refusal, its code and its values."""
    return Conflict(sentence(refusal.fact), **refusal.fact.as_json(), **extra)


def from_database(error: BaseException) -> APIException | None:
    if isinstance(error, IntegrityError):
        return from_integrity(error)
    if isinstance(error, DataError | OverflowError):
        return exceptions.ParseError("A value is outside what can be stored.")
    if isinstance(error, RecursionError):
        return exceptions.ParseError("The body is nested too deeply.")
    if isinstance(error, UnicodeError):
        return exceptions.ParseError("The request holds text that is not valid Unicode.")
    if isinstance(error, OperationalError | InterfaceError) or takes_no_changes(error):
        logger.error("The database refused to work: %s", first_line(error), exc_info=unless_away(error))
        return Unavailable(why_unavailable(error))
    return None


def takes_no_changes(error: BaseException) -> bool:
    """PostgreSQL says 25006 (read_only_sql_transaction), SQLite only words."""
    return getattr(error.__cause__, "sqlstate", "") == "25006" or "readonly database" in str(error)


def is_disk_full(error: BaseException) -> bool:
    """PostgreSQL says 53100 (disk_full), which Django wraps in an error of its own but for rows that are copied; SQLite only words."""
    codes = {getattr(one, "sqlstate", "") for one in (error, error.__cause__)}
    return "53100" in codes or "disk is full" in str(error)


def why_unavailable(error: BaseException) -> str | None:
    if takes_no_changes(error):
        return gettext(
            "The database takes no changes at present; what it holds can be read. Try again later."
        )
    if is_disk_full(error):
        return gettext(
            "There is no room left on the disk of the database: nothing was written. Try again later."
        )
    return None


def from_model_validation(error: django_exceptions.ValidationError) -> ValidationError:
    if not hasattr(error, "error_dict"):
        return ValidationError({NON_FIELD_ERRORS: [coded(one) for one in error.error_list]})
    return ValidationError({name: [coded(one) for one in many] for name, many in error.error_dict.items()})


def coded(error: django_exceptions.ValidationError) -> ErrorDetail:
    if error.code in SENTENCES:
        return detail_of(fact_of_invalid(error))
    return ErrorDetail(error.messages[0], code=error.code or "invalid")


class CodeOfFact(str):
    """The rest framework keeps the code of an error and nothing else, so the code brings the values along."""

    values: dict[str, Any]


def detail_of(found: Fact) -> ErrorDetail:
    """The sentence of a fact as an error of a serializer."""
    code = CodeOfFact(found.code)
    code.values = found.as_json()["values"]
    return ErrorDetail(sentence(found), code=code)


def from_blockers(error: models.ProtectedError | models.RestrictedError) -> Conflict:
    held = error.protected_objects if isinstance(error, models.ProtectedError) else error.restricted_objects
    kinds = sorted(held, key=lambda one: (kind_for_programs(type(one)), str(one)))
    seen = [one for one in kinds[:MOST_BLOCKERS_LOOKED_AT] if is_visible(one)][:BLOCKERS_NAMED]
    blockers = [{"kind": kind_for_programs(type(one)), "name": str(one)} for one in seen]
    named = (
        ", ".join(f"{one['kind']} {one['name']}" for one in blockers) or "records that are not shown to you"
    )
    more = f" and {len(kinds) - len(seen)} more" if seen and len(kinds) > len(seen) else ""
    return Conflict(f"It is still in use by {named}{more}.", blockers=blockers)


@cache
def constraints_by_name() -> dict[str, models.BaseConstraint]:
    return {one.name: one for model in apps.get_models() for one in model._meta.constraints}


@cache
def constraints_by_columns() -> dict[str, models.BaseConstraint]:
    """Unique constraints by the column list in which SQLite reports them."""
    found: dict[str, models.BaseConstraint] = {}
    for model in apps.get_models():
        for one in model._meta.constraints:
            if isinstance(one, models.UniqueConstraint) and one.fields:
                columns = [getattr(model._meta.get_field(name), "column", "") for name in one.fields]
                found[", ".join(f"{model._meta.db_table}.{column}" for column in columns)] = one
    return found


def broken_constraint(text: str) -> models.BaseConstraint | None:
    columns = re.search(r"UNIQUE constraint failed: ([\w., ]+)", text)
    if columns and columns.group(1).strip() in constraints_by_columns():
        return constraints_by_columns()[columns.group(1).strip()]
    names = constraints_by_name()
    return next((names[word] for word in re.findall(r"\w+", text) if word in names), None)


def from_integrity(error: IntegrityError) -> APIException:
    text = str(error)
    constraint = broken_constraint(text)
    if constraint is not None and constraint.name in SENTENCES:
        broken = fact(constraint.name)
        if isinstance(constraint, models.CheckConstraint) and constraint.violation_error_code != "conflict":
            return ValidationError({NON_FIELD_ERRORS: [detail_of(broken)]})
        return Conflict(sentence(broken), **broken.as_json())
    lowered = text.lower()
    if "unique" in lowered:
        return Conflict("A record with this key exists already.")
    if "foreign key" in lowered:
        return Conflict("It refers to, or is referred to by, a record that is not there or is in use.")
    return ValidationError({NON_FIELD_ERRORS: ["The values do not fit together; the database refused them."]})


def pointed(error: APIException) -> tuple[int, list[dict[str, Any]]]:
    """Status and error rows: a key already taken conflicts with the state, everything else is a bad field."""
    if isinstance(error, PointedErrors):
        return error.status_code, error.rows
    if not isinstance(error, ValidationError):
        return error.status_code, []
    found = list(flatten(error.detail))
    taken = bool(found) and all(getattr(one, "code", "") in ("unique", "unique_together") for _, one in found)
    return (409 if taken else 400), [error_row(at, one) for at, one in found]


def error_row(at: str, detail: ErrorDetail | str) -> dict[str, Any]:
    """A row for an error of a serializer; a code of its own, such as `required`, has no values."""
    code = getattr(detail, "code", "invalid")
    return {"pointer": at, "detail": str(detail), "code": str(code), "values": getattr(code, "values", {})}


def problem(
    request: HttpRequest | Request | None, status: int, detail: str, extra: Mapping[str, object] | None = None
) -> dict[str, object]:
    slug, title = KINDS.get(status, ("error", "The request failed"))
    body: dict[str, object] = {
        "type": f"/problems/{slug}",
        "title": title,
        "status": status,
        "detail": detail,
    }
    if request is not None:
        body["instance"] = request.path
        body["request_id"] = getattr(request, "request_id", "")
    return body | dict(extra or {})


class ProblemResponse(HttpResponse):
    """Rendered here, so that a caller who requested another content type can still read the refusal."""

    def __init__(
        self, data: dict[str, object], status: int, headers: Mapping[str, str] | None = None
    ) -> None:
        super().__init__(
            json.dumps(data, ensure_ascii=False, default=str).encode("utf-8", "replace"),
            status=status,
            content_type=CONTENT_TYPE,
            headers=dict(headers or {}),
        )
        self.data = data


def problem_handler(error: Exception, context: Mapping[str, Any]) -> HttpResponseBase | None:
    """DRF's exception handler."""
    answerable = translate(error)
    if answerable is None:
        return None
    return problem_response(answerable, context.get("request"))


def problem_response(error: APIException, request: HttpRequest | Request | None) -> ProblemResponse:
    status, rows = pointed(error)
    extra: dict[str, object] = {"errors": rows} if rows else {}
    if len(rows) < 2:
        extra |= code_of(error, rows)
    extra |= getattr(error, "extra", {})
    detail = summary(rows) if rows else str(error.detail)
    return ProblemResponse(problem(request, status, detail, extra), status, headers_of(error))


def code_of(error: APIException, rows: list[dict[str, Any]]) -> dict[str, object]:
    """Code and values of a single error, for the top of the answer."""
    if rows:
        return {name: rows[0][name] for name in ("code", "values")}
    return {"code": getattr(error.detail, "code", error.default_code), "values": {}}


def headers_of(error: APIException) -> dict[str, str]:
    headers = {}
    if getattr(error, "auth_header", None):
        headers["WWW-Authenticate"] = str(error.auth_header)  # type: ignore[attr-defined]
    if getattr(error, "wait", None):
        headers["Retry-After"] = str(math.ceil(error.wait))  # type: ignore[attr-defined]
    return headers


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponseBase:
    if not request.path.startswith(API_PREFIX):
        return defaults.bad_request(request, exception)
    return problem_response(translate(exception) or exceptions.ParseError(), request)


def permission_denied(request: HttpRequest, exception: Exception) -> HttpResponseBase:
    if not request.path.startswith(API_PREFIX):
        return defaults.permission_denied(request, exception)
    return problem_response(exceptions.PermissionDenied(), request)


def page_not_found(request: HttpRequest, exception: Exception) -> HttpResponseBase:
    if not request.path.startswith(API_PREFIX):
        return defaults.page_not_found(request, exception)
    hint = "" if request.path.endswith("/") else " Addresses end with a slash."
    return problem_response(exceptions.NotFound(f"No resource has this address.{hint}"), request)


def server_error(request: HttpRequest) -> HttpResponseBase:
    named = getattr(request, "request_id", "") or "unknown"
    if not request.path.startswith(API_PREFIX):
        return HttpResponseServerError(render_to_string("500.html", {"request_id": named}))
    detail = f"The fault was recorded; name the request {named} when you report it."
    return ProblemResponse(problem(request, 500, detail), 500)
