"""What people make of task rules: rules of their own, and changed defaults."""

from django.db import transaction

from planning.choices import RuleOrigin, RuleTrigger
from planning.compute.next_tasks import TaskError
from planning.models import TaskRule as TaskRuleRow
from planning.models.rule_checks import DATES
from planning.queries.task_rules import contradiction, month_day
from planning.services.rule_columns import BLANK
from records.services.saving.faults import fault

OWN_SOURCE = "The farm's own rule."


@transaction.atomic
def save_rule(rule: TaskRuleRow) -> TaskRuleRow:
    """Store a person's rule; a default that they change is the farm's own from then on."""
    _check_days_of_the_year(rule)
    found = contradiction(rule)
    if found is not None:
        column, error = found
        raise fault(column, f"{str(error).capitalize()}.", "rule-contradicts-itself") from error
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
    if rule.trigger not in (RuleTrigger.DATES, RuleTrigger.BEFORE_STAGE):
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
