"""Task rules: the defaults that a farm's species bring, and what people make of them."""

from collections.abc import Iterable, Mapping
from typing import Any
from uuid import UUID

import pghistory
from django.db import transaction

from planning.choices import RuleOrigin, RuleTrigger
from planning.compute.next_tasks import (
    AfterStage,
    AfterWork,
    DateWindow,
    Days,
    MonthDay,
    Repeat,
    Stages,
    TaskError,
    TaskRule,
)
from planning.compute.next_tasks.annona import Climate, RuleSet, annona_rules, climate_at
from planning.compute.next_tasks.rules import Trigger
from planning.models import ScheduleSetting
from planning.models import TaskRule as TaskRuleRow
from planning.models.task_rules import DATES
from planning.queries.task_rules import as_rule, month_day
from records.models import Farm, Species
from records.services.saving.faults import fault

OWN_SOURCE = "The farm's own rule."
# What the sources of a default rule's figures are called.
FIGURES = {
    "trigger": "Dates",
    "early_days": "Early work",
    "repeat": "Repeat",
    "end": "How often",
    "until": "End",
}
NOT_CONTENT = {
    *("id", "version", "created_at", "updated_at", "fingerprint", "tick"),
    *("farm", "block", "species", "code", "origin", "is_active"),
}
# What a default says of itself, empty; the rest of a row is whose it is.
BLANK: dict[str, Any] = {
    field.attname: field.get_default()
    for field in TaskRuleRow._meta.concrete_fields
    if field.name not in NOT_CONTENT
}


# What people make of them ------------------------------------------------------------------------


@transaction.atomic
def save_rule(rule: TaskRuleRow) -> TaskRuleRow:
    """Store a person's rule; a default that they change is the farm's own from then on."""
    _check_days_of_the_year(rule)
    try:
        as_rule(rule)
    except TaskError as error:
        field = "closes_on_day" if rule.trigger == RuleTrigger.DATES else "trigger"
        raise fault(field, f"{str(error).capitalize()}.", "rule-contradicts-itself") from error
    _note_source(rule)
    rule.origin = RuleOrigin.OWN
    rule.save(force_insert=rule._state.adding)
    return rule


@transaction.atomic
def delete_rule(rule: TaskRuleRow) -> None:
    """Delete a farm's own rule; the default that it took the place of comes back by itself."""
    if rule.origin == RuleOrigin.DEFAULT:
        text = "A default comes back by itself: switch it off instead."
        raise fault("is_active", text, "default-rule")
    rule.delete()


def _check_days_of_the_year(rule: TaskRuleRow) -> None:
    if rule.trigger != RuleTrigger.DATES:
        return
    for name in DATES:
        try:
            month_day(getattr(rule, name))
        except (TaskError, ValueError) as error:
            text = f"{getattr(rule, name)} is no day of the year; give month and day, as 03-07."
            raise fault(name, text, "no-such-day") from error


def _note_source(rule: TaskRuleRow) -> None:
    """Changed figures no longer rest on the source of the default."""
    stored = TaskRuleRow.objects.filter(pk=rule.pk).first()
    if not rule.source:
        rule.source = OWN_SOURCE
    if stored is None or stored.origin != RuleOrigin.DEFAULT or rule.source != stored.source:
        return
    if any(getattr(rule, name) != getattr(stored, name) for name in BLANK):
        rule.source = OWN_SOURCE


# Defaults ----------------------------------------------------------------------------------------


def climate_of(farm: Farm, setting: ScheduleSetting | None) -> Climate | None:
    """As the farm chose, else by its latitude; None where neither is known."""
    if setting is not None and setting.climate:
        return Climate(setting.climate)
    return climate_at(float(farm.latitude)) if farm.latitude is not None else None


def default_rules(species: Iterable[Species], climate: Climate | None) -> dict[UUID, RuleSet]:
    """The defaults of those species that have any."""
    if climate is None:
        return {}
    found = {}
    for each in species:
        try:
            found[each.pk] = annona_rules(each.code, climate)
        except TaskError:
            continue
    return found


@transaction.atomic
def keep_defaults(farm: Farm, defaults: Mapping[UUID, RuleSet]) -> None:
    """Make a farm's default rules those of the species it grows; its own stay as they are."""
    stored = {
        (row.species_id, row.code): row for row in TaskRuleRow.objects.filter(farm=farm, block=None)
    }
    wanted = {
        (species_id, rule.code): rule_values(rule)
        for species_id, rules in defaults.items()
        for rule in rules.rules
    }
    with pghistory.context(by="default rules"):
        for key, values in wanted.items():
            _keep(farm, key, values, stored.get(key))
        for key, row in stored.items():
            if row.origin == RuleOrigin.DEFAULT and key not in wanted:
                row.delete()


def _keep(
    farm: Farm, key: tuple[UUID, str], values: dict[str, Any], row: TaskRuleRow | None
) -> None:
    if row is None:
        species_id, code = key
        TaskRuleRow.objects.create(
            farm=farm, species_id=species_id, code=code, origin=RuleOrigin.DEFAULT, **values
        )
        return
    differing = [name for name, value in values.items() if getattr(row, name) != value]
    if row.origin == RuleOrigin.DEFAULT and differing:
        for name in differing:
            setattr(row, name, values[name])
        row.save(update_fields=differing)


def rule_values(rule: TaskRule) -> dict[str, Any]:
    """A rule's columns; `source` tells the source of each figure."""
    return {
        **BLANK,
        "kind": rule.kind.value,
        "detail": rule.detail or "",
        "title": rule.title,
        "noun": rule.noun,
        "early_days": rule.early_days,
        "source": " ".join(
            f"{FIGURES[name]}: {text.rstrip('.')}." for name, text in rule.sources.items()
        ),
        **_trigger_values(rule.trigger),
        **_repeat_values(rule.repeat),
        **_stage_values("until_bbch_from", "until_bbch_to", "until_stage", rule.until),
    }


def _trigger_values(trigger: Trigger) -> dict[str, Any]:
    match trigger:
        case DateWindow(opens=opens, best=best, closes=closes, because=because):
            return {
                "trigger": RuleTrigger.DATES.value,
                "opens_on_day": _as_text(opens),
                "best_on_day": _as_text(best),
                "closes_on_day": _as_text(closes),
                "because": because,
            }
        case AfterWork(kind=kind, which=which, days=days):
            return {
                "trigger": RuleTrigger.AFTER_WORK.value,
                "after_kind": kind.value,
                "after_which": which.value,
                **_day_values("", days),
            }
        case AfterStage(stages=stages, days=days, shown_by=shown_by):
            return {
                "trigger": RuleTrigger.AFTER_STAGE.value,
                "shown_by": shown_by.value if shown_by else "",
                **_stage_values("after_bbch_from", "after_bbch_to", "after_stage", stages),
                **_day_values("", days),
            }


def _repeat_values(repeat: Repeat | None) -> dict[str, Any]:
    if repeat is None:
        return {}
    return {
        "repeat_times": repeat.times,
        "repeat_for_days": repeat.for_days,
        **_day_values("repeat_", repeat.days),
    }


def _stage_values(first: str, last: str, name: str, stages: Stages | None) -> dict[str, str]:
    if stages is None:
        return {}
    return {first: f"{stages.first:02}", last: f"{stages.last:02}", name: stages.name}


def _day_values(prefix: str, days: Days) -> dict[str, int]:
    return {
        f"{prefix}opens_days": days.opens,
        f"{prefix}best_days": days.best,
        f"{prefix}closes_days": days.closes,
    }


def _as_text(day: MonthDay) -> str:
    return f"{day.month:02}-{day.day:02}"
