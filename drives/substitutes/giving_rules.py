"""The only writer of rules for substitutes: none against itself, none twice."""

from datetime import date

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from drives.models import Drive, Plant, Position, SubstitutionRule
from drives.place.item_rules import RuleKind
from drives.substitutes.rules_here import day_at
from inventory.facts import Refusal, fact
from inventory.models import Item, PartKind
from inventory.models.access_scope import current_scope
from inventory.plumbing.events import record
from inventory.plumbing.record_validation import EARLIEST_YEAR, refuse_unsound_columns


class RuleRefused(Refusal):
    """No rule was given or withdrawn."""


def give_rule(
    *,
    kind: RuleKind,
    item: Item,
    given_by: str,
    reason: str,
    by: str,
    instead_of: Item | None = None,
    position: Position | None = None,
    drive: Drive | None = None,
    plant: Plant | None = None,
    valid_from: date | None = None,
    valid_until: date | None = None,
) -> SubstitutionRule:
    """For one place, or for all of them where none is named; from today where no day is."""
    today = day_at(plant or _plant_of(position, drive), timezone.now())
    rule = SubstitutionRule(
        kind=kind,
        item=item,
        instead_of=instead_of,
        position=position,
        drive=drive,
        plant=_checked_plant(position, drive, plant),
        given_by=given_by.strip(),
        reason=reason.strip(),
        recorded_by_name=by[:150],
        valid_from=valid_from or today,
        valid_until=valid_until,
    )
    _refuse_unsound(rule, today)
    with transaction.atomic():
        # One at a time for each item, so that the same rule is not given twice at once.
        Item.objects.select_for_update().get(pk=item.pk)
        _refuse_second(rule)
        rule.save(force_insert=True)
        _publish("given", rule)
    return rule


def withdraw_rule(rule: SubstitutionRule, *, by: str, reason: str) -> SubstitutionRule:
    """Once; it has no effect from now on, and stays on record."""
    if rule.plant is None and not current_scope().is_whole:
        raise RuleRefused(fact("rule_for_all_plants"))
    reason = reason.strip()
    if not reason:
        raise RuleRefused(fact("rule_without_reason"), field="reason")
    with transaction.atomic():
        locked = SubstitutionRule.objects.select_for_update(of=("self",)).get(pk=rule.pk)
        if locked.withdrawn_at is not None:
            raise RuleRefused(fact("rule_withdrawn_already", withdrawn_by=locked.withdrawn_by_name))
        locked.withdrawn_at, locked.withdrawn_by_name = timezone.now(), by[:150]
        locked.withdrawal_reason = reason
        refuse_unsound_columns(locked)
        locked.save()
        _publish("withdrawn", locked)
    return locked


def _plant_of(position: Position | None, drive: Drive | None) -> Plant | None:
    on = position.drive if position is not None else drive
    return on.equipment.area.plant if on is not None else None


def _checked_plant(position: Position | None, drive: Drive | None, plant: Plant | None) -> Plant | None:
    if position is not None and drive is not None:
        raise RuleRefused(fact("rule_at_two_places"), field="drive")
    own = _plant_of(position, drive)
    if own is not None and plant is not None and plant.pk != own.pk:
        raise RuleRefused(fact("rule_at_another_plant", plant=own.code), field="plant")
    found = own or plant
    if found is None and not current_scope().is_whole:
        raise RuleRefused(fact("rule_needs_a_place"), field="plant")
    return found


def _refuse_unsound(rule: SubstitutionRule, today: date) -> None:
    other = rule.instead_of
    if rule.kind == RuleKind.REPLACES and other is None:
        raise RuleRefused(fact("rule_replaces_nothing"), field="instead_of")
    if rule.kind == RuleKind.NEVER and other is not None:
        raise RuleRefused(fact("rule_never_replaces"), field="instead_of")
    if other is not None and other.pk == rule.item_id:
        raise RuleRefused(fact("rule_against_itself", item=rule.item.stock_number), field="instead_of")
    for field, named in (("item", rule.item), ("instead_of", other)):
        if named is not None and (
            named.specification is None or named.specification.kind != PartKind.SPROCKET
        ):
            raise RuleRefused(fact("rule_of_no_sprocket", item=named.stock_number), field=field)
    if not rule.given_by:
        raise RuleRefused(fact("rule_without_given_by"), field="given_by")
    if not rule.reason:
        raise RuleRefused(fact("rule_without_reason"), field="reason")
    if rule.valid_from.year < EARLIEST_YEAR:
        found = fact("moment_implausible", field="valid_from", earliest_year=EARLIEST_YEAR)
        raise RuleRefused(found, field="valid_from")
    if rule.valid_until is not None and rule.valid_until < rule.valid_from:
        days = {"valid_from": rule.valid_from.isoformat(), "valid_until": rule.valid_until.isoformat()}
        raise RuleRefused(fact("rule_ends_before_it_begins", **days), field="valid_until")
    if rule.valid_until is not None and rule.valid_until < today:
        raise RuleRefused(fact("rule_over_already", today=today.isoformat()), field="valid_until")
    refuse_unsound_columns(rule)


def _refuse_second(rule: SubstitutionRule) -> None:
    """The same rule at the same place on some of the same days."""
    at_place = SubstitutionRule.objects.filter(
        withdrawn_at__isnull=True, position=rule.position, drive=rule.drive, plant=rule.plant
    ).filter(Q(valid_until__isnull=True) | Q(valid_until__gte=rule.valid_from))
    if rule.valid_until is not None:
        at_place = at_place.filter(valid_from__lte=rule.valid_until)
    known = at_place.filter(kind=rule.kind, item=rule.item, instead_of=rule.instead_of).first()
    if known is not None:
        raise RuleRefused(fact("rule_in_force_already", rule=known.pk), field="item")


def _publish(what: str, rule: SubstitutionRule) -> None:
    record(
        f"substitution_rule.{what}",
        aggregate=f"substitution_rule/{rule.pk}",
        occurred_at=timezone.now(),
        plant=rule.plant.code if rule.plant else "",
        data={
            "substitution_rule": rule.pk,
            "kind": rule.kind,
            "item": rule.item.stock_number,
            "instead_of": rule.instead_of and rule.instead_of.stock_number,
            "position": rule.position and rule.position.tag,
            "drive": rule.drive and rule.drive.tag,
            "by": rule.withdrawn_by_name or rule.given_by,
            "reason": rule.withdrawal_reason or rule.reason,
        },
    )
