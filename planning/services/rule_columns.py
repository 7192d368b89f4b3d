"""A task rule as the columns it is stored in."""

from typing import Any

from planning.choices import OnlyWhile, RuleTrigger
from planning.compute.next_tasks import (
    AfterEvent,
    AfterHeat,
    AfterStage,
    AfterWork,
    BeforeStage,
    Condition,
    DateWindow,
    Days,
    MonthDay,
    NoneYet,
    Repeat,
    Stages,
    TaskRule,
    Trigger,
    UncountedRound,
    WorkKind,
)
from planning.models import TaskRule as TaskRuleRow

# What the sources of a default rule's figures are called.
FIGURES = {
    "trigger": "Dates",
    "early_days": "Early work",
    "repeat": "Repeat",
    "end": "How often",
    "until": "End",
    "only_while": "Only while",
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
        **_condition_values(rule.only_while),
    }


def _trigger_values(trigger: Trigger) -> dict[str, Any]:
    match trigger:
        case DateWindow():
            return {"trigger": RuleTrigger.DATES.value, **_date_values(trigger)}
        case BeforeStage(stages=stages, days=around, otherwise=otherwise):
            return {
                "trigger": RuleTrigger.BEFORE_STAGE.value,
                "opens_days": around.opens_before,
                "best_days": around.best_before,
                "closes_days": around.closes_after,
                **_after_stage_values(stages),
                **_date_values(otherwise),
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
                **_after_stage_values(stages),
                **_day_values("", days),
            }
        case AfterEvent(event=event, days=days):
            return {
                "trigger": RuleTrigger.AFTER_EVENT.value,
                "after_event": event.value,
                **_day_values("", days),
            }
        case AfterHeat():
            return {"trigger": RuleTrigger.AFTER_HEAT.value, **_heat_values(trigger)}


def _date_values(window: DateWindow) -> dict[str, Any]:
    return {
        "opens_on_day": _as_text(window.opens),
        "best_on_day": _as_text(window.best),
        "closes_on_day": _as_text(window.closes),
        "because": window.because,
    }


def _heat_values(trigger: AfterHeat) -> dict[str, Any]:
    values = {
        "after_degree_days": trigger.degree_days,
        "base_c": trigger.base_c,
        **_day_values("", trigger.days),
    }
    if isinstance(trigger.anchor, WorkKind):
        anchor = {"after_kind": trigger.anchor.value, "after_which": trigger.which.value}
        return {**values, **anchor}
    return {**values, **_after_stage_values(trigger.anchor)}


def _condition_values(condition: Condition | None) -> dict[str, Any]:
    match condition:
        case NoneYet(kind=kind, detail=detail):
            return {
                "only_while": OnlyWhile.NONE_YET.value,
                "only_while_kind": kind.value,
                "only_while_detail": detail or "",
            }
        case UncountedRound(days=days, detail=detail):
            return {
                "only_while": OnlyWhile.UNCOUNTED_ROUND.value,
                "only_while_days": days,
                "only_while_detail": detail or "",
            }
    return {}


def _after_stage_values(stages: Stages) -> dict[str, str]:
    return _stage_values("after_bbch_from", "after_bbch_to", "after_stage", stages)


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
