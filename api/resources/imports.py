"""Imports of files: accepted with 202, results row by row at the address in Location."""

import tempfile
from collections.abc import Mapping
from itertools import islice
from typing import IO, Any

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpResponseBase
from django.urls import reverse
from django.utils.datastructures import MultiValueDict
from django.utils.http import parse_header_parameters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import PermissionDenied
from rest_framework.parsers import BaseParser, MultiPartParser
from rest_framework.request import Request

from api.edge.auth import caller_id, caller_name, roles_of
from api.edge.body_limits import MAX_FILE_BYTES, too_large
from api.edge.errors import field_errors, parameter_errors, pointer
from api.edge.filtering import TruthText, WordsFilter
from api.edge.idempotency import idempotent
from api.edge.parsing import nearest
from api.edge.reading import follow
from api.exchange.files import read_file
from api.exchange.import_runs import PART_BYTES, imports_seen_by, progress_of, request_import
from api.exchange.mapping.importing import mapped_of_source
from api.exchange.permitted_kinds import COUNTER_KINDS, MANAGER_KINDS
from api.exchange.refusals import FileRefused
from api.exchange.results import RowOutcome
from api.exchange.tables import KINDS
from api.models import ImportRun, Role
from api.operations.jobs.accepted import ACCEPTED, accepted
from api.operations.jobs.queue import requester_of
from api.wire.facts import BareFactSerializer, FactSerializer, SentenceField, stored_fact
from api.wire.records.accounts import IMPORTS
from api.wire.serializers import ReadSerializer
from api.wire.views import ReadRecordViewSet, filterset_of
from api.wording.sentences import sentence

ROWS_LOOKED_AT = 20_000


class KindText(forms.Field):
    def to_python(self, value: Any) -> str:
        if value and value not in KINDS:
            raise ValidationError(f"It must be one of {', '.join(KINDS)}.{nearest(str(value), KINDS)}")
        return value or ""


class ImportForm(forms.Form):
    """Understood in the query, and beside the file in a multipart body."""

    kind = KindText(required=False, help_text=f"What the rows are: {', '.join(KINDS)}.")
    source = forms.CharField(
        required=False,
        max_length=40,
        help_text="The file has headings of its own: they are mapped by the answers of this source.",
    )
    dry_run = TruthText(required=False, help_text="Report everything and change nothing.")
    partial = TruthText(required=False, help_text="Write the good rows although others are rejected.")


class FileParser(BaseParser):
    """The body is the file."""

    ending = ""

    def parse(self, stream: IO[bytes], media_type: Any = None, parser_context: Any = None) -> Any:
        file: Any = tempfile.SpooledTemporaryFile(PART_BYTES)  # noqa: SIM115 - closed with the request
        size = 0
        while chunk := stream.read(PART_BYTES):
            size += len(chunk)
            if size > MAX_FILE_BYTES:
                raise too_large(MAX_FILE_BYTES)
            file.write(chunk)
        return MultiValueDict({"file": [UploadedFile(file, self.name_of(parser_context), size=size)]})

    def name_of(self, context: Any) -> str:
        """As Content-Disposition says it, if it ends as the media type does."""
        header = context["request"].META.get("HTTP_CONTENT_DISPOSITION", "") if context else ""
        name = str(parse_header_parameters(header)[1].get("filename", ""))
        return name if name.lower().endswith(self.ending) else f"body{self.ending}"


class CsvParser(FileParser):
    media_type = "text/csv"
    ending = ".csv"


class WorkbookParser(FileParser):
    media_type = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    ending = ".xlsx"


class JsonLinesParser(FileParser):
    media_type = "application/x-ndjson"
    ending = ".ndjson"


class CellErrorSerializer(BareFactSerializer):
    column = serializers.CharField(help_text="Empty where the row as a whole is meant.")
    detail = SentenceField(source="*")

    def to_representation(self, instance: Mapping[str, Any]) -> dict[str, Any]:
        found = stored_fact(instance)
        return {"column": instance["column"], "detail": sentence(found), **found.as_json()}


class RowSerializer(serializers.Serializer[Any]):
    line = serializers.IntegerField()
    key = serializers.CharField()
    outcome = serializers.ChoiceField(choices=[outcome.value for outcome in RowOutcome])
    errors = CellErrorSerializer(many=True)  # type: ignore[assignment]


class OutcomeCountField(serializers.IntegerField):
    """How many rows had the outcome of that name."""

    def __init__(self) -> None:
        super().__init__(source="*", read_only=True)

    def to_representation(self, value: Any) -> int:
        return int(value.count_of(self.field_name))


class ProgressSerializer(serializers.Serializer[Any]):
    """How many rows are done; a row that is rejected is read and checked, and not written."""

    rows = serializers.IntegerField(allow_null=True, help_text="In the file; estimated while it is read.")
    read = serializers.IntegerField()
    checked = serializers.IntegerField(help_text="Against the records that they name.")
    written = serializers.IntegerField(help_text="They stand once the import is done.")

    def to_representation(self, instance: ImportRun) -> dict[str, Any]:
        return progress_of(instance).as_json()


class ImportSerializer(ReadSerializer):
    """One file that was sent, and how many of its rows did what."""

    record = IMPORTS
    created = OutcomeCountField()
    updated = OutcomeCountField()
    unchanged = OutcomeCountField()
    rejected = OutcomeCountField()
    progress = ProgressSerializer(source="*", read_only=True)
    problems = FactSerializer(many=True, read_only=True)
    notes = FactSerializer(many=True, read_only=True)
    by = serializers.CharField(source="by_name", read_only=True)


class ImportResultSerializer(ImportSerializer):
    """The import with the result of each row: of up to 20,000 that are rejected and 10,000 others; `notes` count the rest."""

    rows = RowSerializer(source="row_results", many=True, read_only=True)


class ImportFilter(filterset_of(IMPORTS)):  # type: ignore[misc]
    kind = WordsFilter(choices=KINDS)


BODY = {
    "multipart/form-data": {
        "type": "object",
        "required": ["file"],
        "properties": {
            "file": {"type": "string", "format": "binary"},
            "kind": {"type": "string", "enum": list(KINDS)},
            "source": {"type": "string", "maxLength": 40},
            "dry_run": {"type": "boolean"},
            "partial": {"type": "boolean"},
        },
    },
    CsvParser.media_type: {"type": "string"},
    WorkbookParser.media_type: {"type": "string", "format": "binary"},
    JsonLinesParser.media_type: {"type": "string"},
}


class ImportViewSet(ReadRecordViewSet):
    """Files that were sent to be imported, the newest first."""

    record = IMPORTS
    lookup_path = "<int:pk>"
    parser_classes = [MultiPartParser, CsvParser, WorkbookParser, JsonLinesParser]
    filterset_class = ImportFilter
    query_forms = {"create": ImportForm}

    def get_queryset(self) -> Any:
        found = imports_seen_by(caller_id(self.request), super().get_queryset())
        return found.defer("row_results") if self.action == "list" else found

    def get_object(self) -> Any:
        run = super().get_object()
        follow(run.finished_at)
        return run

    def get_serializer_class(self) -> type[ImportSerializer]:
        return ImportSerializer if self.action == "list" else ImportResultSerializer

    def sent(self, request: Request) -> tuple[dict[str, Any], "UploadedFile[Any]", IO[bytes]]:
        options = self.options_of(request)
        self.refuse_role(request, options["kind"])
        upload = file_of(request)
        return options, upload, checked_file(upload, options["kind"], options["source"])

    @extend_schema(request=BODY, responses={202: ImportResultSerializer}, parameters=ACCEPTED)
    @idempotent(prepare=sent)
    def create(
        self, request: Request, sent: tuple[dict[str, Any], "UploadedFile[Any]", IO[bytes]]
    ) -> HttpResponseBase:
        options, upload, file = sent
        run = ImportRun.objects.create(
            kind=options["kind"],
            file_name=shown_name(upload),
            source=options["source"],
            dry_run=bool(options["dry_run"]),
            partial=bool(options["partial"]),
            by=request.user if isinstance(request.user, User) else None,
            by_name=caller_name(request),
            caller=caller_id(request),
        )
        job = request_import(run, file, by=requester_of(request))
        return accepted(
            request, self.represent(run), address=reverse("import-detail", kwargs={"pk": run.pk}), job=job
        )

    def options_of(self, request: Request) -> dict[str, Any]:
        """What the query says, or the fields beside the file where it says nothing."""
        query = self.read_query()
        members = request.data if isinstance(request.data, Mapping) else {}
        unknown = [name for name in members if name not in {"file", *ImportForm.base_fields}]
        if unknown:
            raise field_errors({pointer(name): "There is no such member." for name in unknown})
        beside = ImportForm({name: members.get(name) for name in ImportForm.base_fields})
        if not beside.is_valid():
            raise field_errors(
                {pointer(name): [str(text) for text in texts] for name, texts in beside.errors.items()}
            )
        options = {name: query[name] or beside.cleaned_data[name] for name in ImportForm.base_fields}
        if not options["kind"]:
            raise parameter_errors({"kind": f"Say what the rows are: one of {', '.join(KINDS)}."})
        return options

    def refuse_role(self, request: Request, kind: str) -> None:
        if kind not in COUNTER_KINDS and not roles_of(request) & {Role.MANAGER, Role.INTEGRATION}:
            raise PermissionDenied(
                f"The role of these credentials may import {', '.join(sorted(COUNTER_KINDS))} only."
            )
        if kind in MANAGER_KINDS and Role.MANAGER not in roles_of(request):
            raise PermissionDenied(f"How many to keep is for people to decide: a manager imports {kind}.")


def file_of(request: Request) -> "UploadedFile[Any]":
    upload = request.data.get("file") if isinstance(request.data, Mapping) else None
    if not isinstance(upload, UploadedFile):
        raise field_errors({"/file": "A file is expected here: CSV, XLSX or NDJSON."})
    return upload


def checked_file(upload: "UploadedFile[Any]", kind: str, source: str = "") -> IO[bytes]:
    """The file as it was sent; one that cannot be read is refused before it is kept.

    Looked at are its encoding and its first rows: what is damaged further down is a problem of the run.
    """
    if (upload.size or 0) > MAX_FILE_BYTES:
        raise too_large(MAX_FILE_BYTES)
    file: IO[bytes] = upload.file  # type: ignore[assignment]
    try:
        if source:
            _ = mapped_of_source(file, kind=kind, source=source).sheet
            return file
        sheet = read_file(file, name=upload.name or "", kind=kind, looked_at=ROWS_LOOKED_AT)
        for _ in islice(sheet.rows, ROWS_LOOKED_AT):
            pass
    except FileRefused as refusal:
        raise field_errors({"/file": refusal.facts}) from refusal
    return file


def shown_name(upload: "UploadedFile[Any]") -> str:
    """The name as it may be shown and logged; the file itself is not kept."""
    name = "".join(
        letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in upload.name or ""
    )
    return name[:200]
