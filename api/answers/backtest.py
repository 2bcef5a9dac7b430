"""Back-test: what every stocking rule would have promised and kept, over the plant's own record or over rows that are given."""

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any

import numpy as np
import numpy.typing as npt
from django import forms
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.calculated_answers import AsOfSerializer, CalculatedQuery, calculated, found_or_accepted
from api.answers.derived_members import CoreAnswerSerializer
from api.answers.substitutes import storeroom_id
from api.edge.checked_input import CurrencyField, SpanField, refusals_at
from api.edge.errors import parameter_errors
from api.edge.filtering import NumberText, Range
from api.edge.parsing import StrictIntegerField
from api.edge.viewsets import StrictAPIView
from api.operations.jobs.accepted import ACCEPTED
from api.operations.jobs.calculations import declare_calculation
from api.wire.serializers import BodySerializer, MemberErrors
from drives.demand.monthly_series import DemandSeries, LeftOutRequests, monthly_series
from inventory.array_checks import FloatArray
from inventory.facts import Fact, fact
from inventory.models import Storeroom
from inventory.planning.policy_replays import replay_levels
from inventory.progress import Progress, stretches, unreported
from inventory.stocking.backtest import TARGETS, Promise, largest_windows, run_backtest, thinning
from inventory.stocking.replay import Calibration

BoolArray = npt.NDArray[np.bool_]

MOST_ITEMS, MOST_PERIODS = 5_000, 240
LARGEST_DEMAND = 1_000
"""Pieces over one exposure: more is no spare part, and the distributions would be too long."""
FAULTS_NAMED = 500
LONGEST_EXPOSURE, LONGEST_STEP = 36, 120
MONTHS_TO_LEARN, EXPOSURE_MONTHS, STEP_MONTHS = 24, 3, 3
MOST_TARGETS = 5
PERIODS = ("months_to_learn", "exposure_months", "step_months")
MOST_WORK = 1_500_000
"""About twenty seconds; of a larger record every second, third, … item is replayed."""


@dataclass(frozen=True)
class Setting:
    """In periods: what the first origin knows, what each prediction is for, from one origin to the next."""

    months_to_learn: int = MONTHS_TO_LEARN
    exposure_months: int = EXPOSURE_MONTHS
    step_months: int = STEP_MONTHS

    def fault(self) -> dict[str, str]:
        if self.months_to_learn >= self.exposure_months:
            return {}
        text = "It must be at least exposure_months: a rule needs one such period to learn from."
        return {"months_to_learn": text}


@dataclass(frozen=True)
class Origin:
    periods_known: int
    month: date | None


@dataclass(frozen=True, kw_only=True)
class BackTestAnswer:
    """Without any replay `outcomes` is empty, and `reasons` say why."""

    months_to_learn: int
    exposure_months: int
    step_months: int
    items_given: int
    periods: int
    currency: str | None
    items: int = 0
    windows: int = 0
    origins: tuple[Origin, ...] = ()
    outcomes: tuple[Promise, ...] = ()
    calibration: tuple[Calibration, ...] = ()
    left_out: LeftOutRequests | None = None
    reasons: tuple[Fact, ...] = ()


@extend_schema_field(
    {
        "type": "array",
        "minItems": 1,
        "maxItems": MOST_ITEMS,
        "items": {
            "type": "array",
            "minItems": 1,
            "maxItems": MOST_PERIODS,
            "items": {"type": "integer", "minimum": 0, "maximum": LARGEST_DEMAND},
        },
    }
)
class PeriodsField(serializers.Field[Any, Any, Any, Any]):
    """Rows of whole pieces, all of one length. A million cells are checked one by one, without a field for each."""

    default_error_messages = {
        "rows": "A list of 1 to {most:,} rows is expected here.",
        "row": "A row of 1 to {most:,} whole numbers from 0 to {largest:,} is expected here.",
        "length": "This row has {count} periods, the first one {first}.",
        "cell": "A whole number from 0 to {largest:,} is expected here.",
    }

    def to_internal_value(self, data: Any) -> FloatArray:
        if not isinstance(data, list) or not 1 <= len(data) <= MOST_ITEMS:
            self.fail("rows", most=MOST_ITEMS)
        faults: dict[str, Any] = {}
        for place, row in enumerate(data):
            if found := self.row_faults(row, data[0]):
                faults[str(place)] = found
            if len(faults) > FAULTS_NAMED:
                break
        if faults:
            raise ValidationError(faults)
        return np.array(data, dtype=np.float64)

    def row_faults(self, row: Any, first: Any) -> Any:
        if not isinstance(row, list) or not 1 <= len(row) <= MOST_PERIODS:
            return [self.error_messages["row"].format(most=MOST_PERIODS, largest=LARGEST_DEMAND)]
        text = self.error_messages["cell"].format(largest=LARGEST_DEMAND)
        cells = {str(place): [text] for place, cell in enumerate(row) if not is_pieces(cell)}
        if not cells and isinstance(first, list) and len(row) != len(first):
            return [self.error_messages["length"].format(count=len(row), first=len(first))]
        return cells

    def to_representation(self, value: Any) -> Any:
        return value


def is_pieces(cell: Any) -> bool:
    whole = type(cell) is int or (type(cell) is float and cell.is_integer())
    return whole and 0 <= cell <= LARGEST_DEMAND


class BackTestBodySerializer(BodySerializer):
    periods = PeriodsField(
        help_text="A row for each item, a whole number of pieces for each period, oldest first."
    )
    months_to_learn = StrictIntegerField(min_value=2, max_value=MOST_PERIODS, default=MONTHS_TO_LEARN)
    exposure_months = StrictIntegerField(min_value=1, max_value=LONGEST_EXPOSURE, default=EXPOSURE_MONTHS)
    step_months = StrictIntegerField(min_value=1, max_value=LONGEST_STEP, default=STEP_MONTHS)
    targets = serializers.ListField(
        child=SpanField(above=0, below=1), min_length=1, max_length=MOST_TARGETS, default=list(TARGETS)
    )
    unit_costs = serializers.ListField(
        child=SpanField(min_value=0, max_value=1e12, allow_null=True),
        required=False,
        allow_null=True,
        max_length=MOST_ITEMS,
        help_text="Price of a piece of each row; null where it is not known.",
    )
    currency = CurrencyField(required=False, allow_null=True)

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        found: dict[str, str] = {}
        if all(name in values for name in PERIODS):
            found |= Setting(**{name: values[name] for name in PERIODS}).fault()
        rows, costs = values.get("periods"), values.get("unit_costs")
        if rows is not None and "months_to_learn" in values and "exposure_months" in values:
            needed = values["months_to_learn"] + values["exposure_months"]
            if rows.shape[1] < needed:
                found["periods"] = (
                    f"{needed} periods are needed to learn from and to replay, not {rows.shape[1]}."
                )
            elif (largest_windows(rows, values["exposure_months"]) > LARGEST_DEMAND).any():
                found["periods"] = (
                    f"No row may have a demand of more than {LARGEST_DEMAND:,} pieces over exposure_months: leave such rows out."
                )
        if rows is not None and costs is not None and len(costs) != len(rows):
            found["unit_costs"] = f"A price for each of the {len(rows)} rows is expected, or null."
        return {name: [text] for name, text in found.items()}


class PromiseSerializer(CoreAnswerSerializer):
    of = Promise
    members = (
        "rule promised achieved_cycle_service=achieved achieved_interval verdict is_best fill_rate mean_leftover mean_spend "
        "service_by_origin"
    )
    texts = {
        "promised": "Cycle service: the share of windows without a shortage.",
        "verdict": "The promise lies in that interval, above or below it.",
        "is_best": "Left least over of the rules that did not miss this promise.",
        "fill_rate": "Share of the demand that was on the shelf.",
        "mean_leftover": "Pieces left per item and window.",
    }
    achieved_interval = serializers.SerializerMethodField(
        help_text="95 %, binomial, over windows that do not overlap."
    )
    mean_spend = serializers.SerializerMethodField(
        help_text="Money in the stock at the start of a window, per priced item; null without prices."
    )

    @extend_schema_field({"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2})
    def get_achieved_interval(self, promise: Promise) -> list[float]:
        return [promise.low, promise.high]

    @extend_schema_field({"type": ["string", "null"]})
    def get_mean_spend(self, promise: Promise) -> str | None:
        return None if promise.mean_spend is None else f"{promise.mean_spend:.2f}"


class CalibrationSerializer(CoreAnswerSerializer):
    of = Calibration
    members = "rule mean_score pit"
    texts = {
        "mean_score": "Mean ranked probability score (CRPS) in pieces: smaller is better.",
        "pit": "Ten bins; a tenth in each where the chances came true.",
    }


class OriginSerializer(CoreAnswerSerializer):
    of = Origin
    members = "periods_known month"
    texts = {"month": "First month that had to be predicted."}


class RequestsLeftOutSerializer(CoreAnswerSerializer):
    of = LeftOutRequests
    members = "planned in_links without_item before_the_record in_the_present_month"


class BackTestSerializer(CoreAnswerSerializer, AsOfSerializer):
    of = BackTestAnswer
    members = (
        "reasons as_of items items_given periods windows months_to_learn exposure_months step_months currency "
        "origins outcomes calibration left_out"
    )
    texts = {
        "items": "Rows replayed.",
        "windows": "Items times windows that do not overlap.",
        "outcomes": "Empty where the record is too short; `reasons` say so.",
        "left_out": "Requests that are not part of the record.",
    }


class BackTestQuery(CalculatedQuery):
    storeroom = forms.CharField(required=False, max_length=20)
    months_to_learn = NumberText(span=Range(2, MOST_PERIODS, whole=True), required=False)
    exposure_months = NumberText(span=Range(1, LONGEST_EXPOSURE, whole=True), required=False)
    step_months = NumberText(span=Range(1, LONGEST_STEP, whole=True), required=False)


def replayed(
    record: FloatArray,
    setting: Setting,
    *,
    targets: Sequence[float],
    costs: FloatArray | None,
    currency: str | None,
    months: Sequence[date] = (),
    progress: Progress = unreported,
) -> BackTestAnswer:
    first_origin, exposure, step = setting.months_to_learn, setting.exposure_months, setting.step_months
    every = thinning(record, first_origin=first_origin, exposure=exposure, step=step, most_work=MOST_WORK)
    found = run_backtest(
        record[::every],
        first_origin=first_origin,
        exposure=exposure,
        step=step,
        targets=targets,
        unit_costs=None if costs is None else costs[::every],
        progress=progress,
    )
    thinned = (fact("rows_thinned", every=every, rows=len(record)),) if every > 1 else ()
    return replace(
        not_replayed(record, setting, currency),
        items=found.items,
        windows=found.windows,
        origins=tuple(Origin(origin, months[origin] if months else None) for origin in found.origins),
        outcomes=found.promises,
        calibration=found.calibrations,
        reasons=(*found.reasons, *thinned),
    )


def not_replayed(record: FloatArray, setting: Setting, currency: str | None) -> BackTestAnswer:
    return BackTestAnswer(
        **asdict(setting), items_given=len(record), periods=record.shape[1], currency=currency
    )


def given_answer(body: Mapping[str, Any]) -> BackTestAnswer:
    setting = Setting(body["months_to_learn"], body["exposure_months"], body["step_months"])
    costs = body.get("unit_costs")
    return replayed(
        body["periods"],
        setting,
        targets=body["targets"],
        costs=None if costs is None else np.array(costs, dtype=np.float64),
        currency=body.get("currency"),
    )


def calculate_backtest(
    storeroom: str = "", *, progress: Progress = unreported, **setting: int
) -> BackTestAnswer:
    loaded, played, _ = stretches(progress, 1, 8, 1)
    room = Storeroom.objects.get(code=storeroom).pk if storeroom else None
    series = monthly_series(until=timezone.now(), storeroom_id=room)
    loaded(1, 1)
    answer = plant_answer(series, Setting(**setting), played)
    return replace(answer, reasons=(*answer.reasons, *replay_levels(room)))


def plant_answer(series: DemandSeries, setting: Setting, progress: Progress = unreported) -> BackTestAnswer:
    """Over the plant's own requests; a record too short is a reason, not an error.

    Replayed are the months that all storerooms have of which any window can be replayed.
    """
    long_enough = len(series.months) - series.begins >= setting.months_to_learn + setting.exposure_months
    begin = int(series.begins[long_enough].max(initial=0))
    series = replace(series, months=series.months[begin:], pieces=series.pieces[:, begin:])
    usable = long_enough & usable_rows(series, setting)
    costs, currency = prices(series)
    if not usable.any():
        answer = not_replayed(series.pieces, setting, currency)
        answer = replace(answer, reasons=(too_short(series, setting),))
    else:
        answer = replayed(
            series.pieces[usable],
            setting,
            targets=TARGETS,
            costs=costs[usable] if currency else None,
            currency=currency,
            months=series.months,
            progress=progress,
        )
    reasons = (*answer.reasons, *notes(series, long_enough, usable=usable, costs=costs, currency=currency))
    return replace(answer, items_given=len(series.items), left_out=series.left_out, reasons=reasons)


def usable_rows(series: DemandSeries, setting: Setting) -> BoolArray:
    if not series.months:
        return np.zeros(0, dtype=bool)
    return np.asarray(largest_windows(series.pieces, setting.exposure_months) <= LARGEST_DEMAND)


def too_short(series: DemandSeries, setting: Setting) -> Fact:
    return fact(
        "record_too_short",
        months=len(series.months),
        items=len(series.items),
        months_needed=setting.months_to_learn + setting.exposure_months,
        months_to_learn=setting.months_to_learn,
        exposure_months=setting.exposure_months,
    )


def prices(series: DemandSeries) -> tuple[FloatArray, str | None]:
    """Unit costs in the currency of most items, NaN for the others and where none is known."""
    known = Counter(one.currency for one in series.items if one.unit_cost is not None)
    currency = min(known, key=lambda name: (-known[name], name)) if known else None
    costs = [
        float(one.unit_cost) if one.unit_cost is not None and one.currency == currency else math.nan
        for one in series.items
    ]
    return np.array(costs, dtype=np.float64), currency


def notes(
    series: DemandSeries,
    long_enough: BoolArray,
    *,
    usable: BoolArray,
    costs: FloatArray,
    currency: str | None,
) -> Iterator[Fact]:
    left, unpriced = series.left_out, int(np.isnan(costs).sum())
    for count, code, values in (
        (left.planned, "planned_requests_left_out", {}),
        (left.in_links, "chain_requests_left_out", {}),
        (left.without_item, "requests_without_item_left_out", {}),
        (left.before_the_record, "requests_before_record_left_out", {}),
        (left.in_the_present_month, "requests_this_month_left_out", {}),
        (int((~long_enough).sum()) if usable.any() else 0, "items_of_short_records_left_out", {}),
        (int((long_enough & ~usable).sum()), "large_demands_left_out", {"limit": LARGEST_DEMAND}),
        (unpriced if currency else 0, "items_without_price", {"currency": currency}),
        (0 if currency else unpriced, "no_item_priced", {}),
    ):
        if count:
            yield fact(code, count=count, **values)
    if series.items:
        yield fact("only_requested_items")


def parameters_of(setting: Setting, storeroom: str) -> dict[str, Any]:
    return asdict(setting) | ({"storeroom": storeroom} if storeroom else {})


BACKTEST = declare_calculation(
    "backtest", BackTestAnswer, calculate_backtest, usual_seconds=20.0, address="stocking-backtest"
)


class BackTestView(StrictAPIView):
    """Each rule predicts from what was known at a past date and is compared with the demand that followed."""

    is_costly = True
    query_form = BackTestQuery

    @extend_schema(responses=calculated(BackTestSerializer), parameters=ACCEPTED)
    def get(self, request: Request) -> Response:
        wanted = self.read_query()
        storeroom_id(wanted["storeroom"])  # One that is not known, or not visible, is refused.
        setting = Setting(**{name: int(wanted[name]) for name in PERIODS if wanted[name] is not None})
        if wrong := setting.fault():
            raise parameter_errors(wrong)
        parameters = parameters_of(setting, wanted["storeroom"])
        answer = found_or_accepted(request, BACKTEST, parameters, calculated_after=wanted["calculated_after"])
        if isinstance(answer, Response):
            return answer
        return Response(BackTestSerializer(answer.found, context={"as_of": answer.as_of}).data)

    @extend_schema(request=BackTestBodySerializer, responses=BackTestSerializer)
    def post(self, request: Request) -> Response:
        """The same on rows that are given; nothing is stored."""
        body = self.read(BackTestBodySerializer, request)
        with refusals_at({"unit_costs": "/unit_costs", "targets": "/targets"}, "/periods"):
            answer = given_answer(body)
        return Response(BackTestSerializer(answer).data)
