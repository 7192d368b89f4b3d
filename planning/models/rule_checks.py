"""What the columns of a task rule must be to each other, checked by the database and the API."""

from django.db import models
from django.db.models import F, Q

from planning.choices import OnlyWhile, RuleTrigger, WorkKind


def filled(*names: str) -> Q:
    """Every one of some texts is there."""
    return Q(*(~Q(**{name: ""}) for name in names))


def empty(*names: str) -> Q:
    return Q(**dict.fromkeys(names, ""))


def given(*names: str) -> Q:
    """Every one of some numbers is there."""
    return Q(**{f"{name}__isnull": False for name in names})


def missing(*names: str) -> Q:
    return Q(**{f"{name}__isnull": True for name in names})


DATES = ("opens_on_day", "best_on_day", "closes_on_day")
DAYS = ("opens_days", "best_days", "closes_days")
WORK = ("after_kind", "after_which")
STAGE = ("after_bbch_from", "after_bbch_to", "after_stage")
HEAT = ("after_degree_days", "base_c")
REPEAT = ("repeat_opens_days", "repeat_best_days", "repeat_closes_days")
REPEAT_END = ("repeat_times", "repeat_for_days")
UNTIL = ("until_bbch_from", "until_bbch_to", "until_stage")
ONLY_WHILE = ("only_while", "only_while_kind", "only_while_detail", "only_while_days")


def ordered(names: tuple[str, str, str]) -> Q:
    opens, best, closes = names
    return missing(*names) | Q(**{f"{best}__gte": F(opens), f"{closes}__gte": F(best)})


def of(*triggers: RuleTrigger) -> Q:
    return Q(trigger__in=[trigger.value for trigger in triggers])


def only_of(triggers: Q, filled: Q, empty: Q) -> Q:
    """Rules of some triggers have some columns, and no others do."""
    return (triggers & filled) | (~triggers & empty)


DATED = of(RuleTrigger.DATES, RuleTrigger.BEFORE_STAGE)
STAGED = of(RuleTrigger.AFTER_STAGE, RuleTrigger.BEFORE_STAGE)
ANCHORED = (filled(*WORK) & empty(*STAGE)) | (empty(*WORK) & filled(*STAGE))

RULE_CHECKS = [
    models.CheckConstraint(condition=filled("code", "title", "noun"), name="task_rule_is_named"),
    models.CheckConstraint(
        condition=missing("block") | missing("species"),
        name="task_rule_of_a_block_or_a_species",
        violation_error_message="Name a block or a species, not both.",
    ),
    models.CheckConstraint(
        condition=only_of(DATED, filled(*DATES, "because"), empty(*DATES, "because")),
        name="task_rule_of_dates_has_its_dates",
        violation_error_message=(
            "A rule of dates, or before a stage, has a first, a best and a last day of the"
            " year and says why then; other rules have none of these."
        ),
    ),
    models.CheckConstraint(
        condition=only_of(of(RuleTrigger.DATES), missing(*DAYS), given(*DAYS)),
        name="task_rule_counts_its_days",
        violation_error_message=(
            "Work after something opens, is best and closes so many days after it;"
            " a rule of dates has no such days."
        ),
    ),
    models.CheckConstraint(
        condition=only_of(
            of(RuleTrigger.BEFORE_STAGE), Q(opens_days__gte=F("best_days")), ordered(DAYS)
        ),
        name="task_rule_days_in_order",
        violation_error_message=(
            "Work opens, then is best done, then closes: before a stage, no fewer days"
            " ahead than it is best done."
        ),
    ),
    models.CheckConstraint(
        condition=of(RuleTrigger.AFTER_HEAT)
        | only_of(of(RuleTrigger.AFTER_WORK), filled(*WORK), empty(*WORK)),
        name="task_rule_after_work_names_it",
        violation_error_message=(
            "A rule after work names the kind, and whether the first or the last counts;"
            " other rules name none."
        ),
    ),
    models.CheckConstraint(
        condition=of(RuleTrigger.AFTER_HEAT) | only_of(STAGED, filled(*STAGE), empty(*STAGE)),
        name="task_rule_after_a_stage_names_it",
        violation_error_message=(
            "A rule of a growth stage names the stages, from and to, and what they are"
            " called; other rules name none."
        ),
    ),
    models.CheckConstraint(
        condition=Q(trigger=RuleTrigger.AFTER_STAGE) | Q(shown_by=""),
        name="task_rule_shown_by_of_a_stage",
        violation_error_message="Only the stage that a rule comes after is shown by work.",
    ),
    models.CheckConstraint(
        condition=only_of(of(RuleTrigger.AFTER_EVENT), filled("after_event"), empty("after_event")),
        name="task_rule_after_an_event_names_it",
        violation_error_message=(
            "A rule after an event of the season names it; other rules name none."
        ),
    ),
    models.CheckConstraint(
        condition=only_of(of(RuleTrigger.AFTER_HEAT), given(*HEAT), missing(*HEAT)),
        name="task_rule_of_heat_has_its_sum",
        violation_error_message=(
            "A rule of heat has the degree days and the temperature above which they are"
            " counted; other rules have neither."
        ),
    ),
    models.CheckConstraint(
        condition=~of(RuleTrigger.AFTER_HEAT) | ANCHORED,
        name="task_rule_of_heat_has_one_anchor",
        violation_error_message=(
            "Degree days are counted from work, the first or the last, or from a stage"
            " with its name: give one of the two."
        ),
    ),
    models.CheckConstraint(
        condition=only_of(
            Q(only_while=OnlyWhile.NONE_YET),
            filled("only_while_kind"),
            empty("only_while_kind"),
        ),
        name="task_rule_only_while_names_the_work",
        violation_error_message=(
            "Say of which kind no work is on record yet; other conditions name none."
        ),
    ),
    models.CheckConstraint(
        condition=only_of(
            Q(only_while=OnlyWhile.UNCOUNTED_ROUND),
            given("only_while_days"),
            missing("only_while_days"),
        ),
        name="task_rule_only_while_has_its_days",
        violation_error_message=(
            "Say how old, in days, the round without a count is; other conditions have no"
            " such days."
        ),
    ),
    models.CheckConstraint(
        condition=Q(only_while_detail="") | ~Q(only_while=""),
        name="task_rule_only_while_is_whole",
        violation_error_message="Say what the rule waits for, or leave the count empty.",
    ),
    models.CheckConstraint(
        condition=Q(after_bbch_to__gte=F("after_bbch_from")),
        name="task_rule_stages_in_order",
        violation_error_message="The last stage is not before the first.",
    ),
    models.CheckConstraint(
        condition=Q(until_bbch_to__gte=F("until_bbch_from")),
        name="task_rule_end_in_order",
        violation_error_message="The last stage is not before the first.",
    ),
    models.CheckConstraint(
        condition=(missing(*REPEAT, *REPEAT_END))
        | (given(*REPEAT) & (given("repeat_times") | given("repeat_for_days"))),
        name="task_rule_repeat_is_whole",
        violation_error_message=(
            "A repeat opens, is best and closes so many days after the last, and comes so"
            " many times or for so many days."
        ),
    ),
    models.CheckConstraint(
        condition=ordered(REPEAT) & (missing(*REPEAT) | Q(repeat_opens_days__gte=1)),
        name="task_rule_repeat_in_order",
        violation_error_message=(
            "A repeat opens a day after the last or later, then is best done, then closes."
        ),
    ),
    models.CheckConstraint(
        condition=filled(*UNTIL) | empty(*UNTIL),
        name="task_rule_end_is_whole",
        violation_error_message="Name the stages that end it, from and to, and their name.",
    ),
    models.CheckConstraint(
        condition=Q(detail="") | Q(kind=WorkKind.COUNTING),
        name="task_rule_detail_of_counting",
        violation_error_message="Only counting says which count.",
    ),
]
