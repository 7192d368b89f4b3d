"""The default rules that the species of farms bring."""

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any
from uuid import UUID

import pghistory
from django.db import transaction

from planning.choices import RuleOrigin
from planning.compute.next_tasks import TaskError, TaskRule
from planning.compute.next_tasks.annona import Climate, RuleSet, annona_rules, climate_at
from planning.models import ScheduleSetting
from planning.models import TaskRule as TaskRuleRow
from planning.services.rule_columns import rule_values
from records.models import Farm, Species

Key = tuple[UUID, UUID, str]  # a farm, a species and a rule's code
Values = dict[str, Any]  # columns by name


def climate_of(farm: Farm, setting: ScheduleSetting | None) -> Climate | None:
    """As the farm chose, else by its latitude; None where neither is known."""
    if setting is not None and setting.climate:
        return Climate(setting.climate)
    return climate_at(float(farm.latitude)) if farm.latitude is not None else None


def default_rules(species: Iterable[Species], climate: Climate | None) -> dict[UUID, RuleSet]:
    """The defaults of those species that have any."""
    if climate is None:
        return {}
    found = {each.pk: _rules_of(each.code, climate) for each in species}
    return {pk: rules for pk, rules in found.items() if rules is not None}


@cache
def _rules_of(species: str, climate: Climate) -> RuleSet | None:
    try:
        return annona_rules(species, climate)
    except TaskError:
        return None


@transaction.atomic
def keep_defaults(defaults: Mapping[UUID, Mapping[UUID, RuleSet]]) -> None:
    """Make farms' default rules those of the species they grow; their own stay as they are."""
    stored = {
        (row.farm_id, row.species_id, row.code): row
        for row in TaskRuleRow.objects.filter(farm_id__in=defaults, block=None)
    }
    wanted = dict(_wanted(defaults))
    added = [
        _row(key, rule, is_active) for key, (rule, is_active) in wanted.items() if key not in stored
    ]
    changed = [
        (row, values)
        for key, row in stored.items()
        if key in wanted and (values := _differing(row, wanted[key][0]))
    ]
    gone = [row.pk for key, row in stored.items() if _is_default(row) and key not in wanted]
    if added or changed or gone:
        with pghistory.context(by="default rules"):
            _write(added, changed, gone)


def _wanted(
    defaults: Mapping[UUID, Mapping[UUID, RuleSet]],
) -> Iterable[tuple[Key, tuple[TaskRule, bool]]]:
    """Each rule, and whether it is switched on to begin with."""
    for farm_id, sets in defaults.items():
        for species_id, rules in sets.items():
            for rule in rules.rules:
                yield (farm_id, species_id, rule.code), (rule, True)
            for rule in rules.options:
                yield (farm_id, species_id, rule.code), (rule, False)


def _row(key: Key, rule: TaskRule, is_active: bool) -> TaskRuleRow:
    farm_id, species_id, code = key
    return TaskRuleRow(
        farm_id=farm_id,
        species_id=species_id,
        code=code,
        origin=RuleOrigin.DEFAULT,
        is_active=is_active,
        **rule_values(rule),
    )


def _is_default(row: TaskRuleRow) -> bool:
    return row.origin == RuleOrigin.DEFAULT


def _differing(row: TaskRuleRow, rule: TaskRule) -> Values:
    """What a default says differently now."""
    if not _is_default(row):
        return {}
    values = rule_values(rule)
    return {name: value for name, value in values.items() if getattr(row, name) != value}


def _write(
    added: list[TaskRuleRow], changed: list[tuple[TaskRuleRow, Values]], gone: list[UUID]
) -> None:
    TaskRuleRow.objects.bulk_create(added)
    for row, values in changed:
        for name, value in values.items():
            setattr(row, name, value)
        row.save(update_fields=list(values))
    TaskRuleRow.objects.filter(pk__in=gone).delete()
