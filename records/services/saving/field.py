"""Rules of task logs, growth stages and trunk girths."""

from records import details
from records.models import GrowthStage, TaskLog, TrunkGirth
from records.services.saving.dates import check_not_in_future
from records.services.saving.faults import fault
from records.services.saving.links import Given, check_in_block, linked


def prepare_task_log(log: TaskLog, given: Given) -> None:
    check_not_in_future(log)
    check_in_block(log, linked(log, given, "trees"))
    try:
        details.check(log.kind, log.details)
    except details.DetailsError as error:
        raise fault("details", str(error), error.code) from error


def prepare_growth_stage(stage: GrowthStage, given: Given) -> None:
    check_not_in_future(stage)
    if stage.tree_id:
        check_in_block(stage, [stage.tree], "tree")


def prepare_trunk_girth(girth: TrunkGirth, given: Given) -> None:
    check_not_in_future(girth)
