"""What is due next in each block, by its task rules and what was recorded.

A rule is set off by a yearly window of dates, or by work or a growth stage of the crop; it may
repeat, each time counted from the actual day of the last, until so many times, so many days, or
a stage that ends it. Dates are farm-local and inclusive:

* coming before `opens`, open from `opens` to `best`, overdue after `best` up to `closes`,
  missed after `closes`
* done when work of the kind is on record; done late when that was after `best`; skipped, with a
  reason, when somebody decided so and nobody did it

Everything follows from the records alone, so they may come in any order, and be corrected and
removed. What cannot be known gives no date: the rule is reported as waiting, with what it waits
for. Figures of the default rules and their sources are in `annona`.
"""

from planning.compute.next_tasks.cycles import CropFacts, SeasonDays, cycles_of
from planning.compute.next_tasks.plan import next_tasks
from planning.compute.next_tasks.rules import (
    AfterStage,
    AfterWork,
    DateWindow,
    Days,
    MonthDay,
    Repeat,
    Stages,
    TaskError,
    TaskRule,
    Which,
    Window,
    WorkKind,
)
from planning.compute.next_tasks.values import (
    BlockYear,
    Choice,
    Cycle,
    NextTask,
    Schedule,
    StageSeen,
    TaskState,
    Waiting,
    Work,
)

__all__ = [
    "AfterStage",
    "AfterWork",
    "BlockYear",
    "Choice",
    "CropFacts",
    "Cycle",
    "DateWindow",
    "Days",
    "MonthDay",
    "NextTask",
    "Repeat",
    "Schedule",
    "SeasonDays",
    "StageSeen",
    "Stages",
    "TaskError",
    "TaskRule",
    "TaskState",
    "Waiting",
    "Which",
    "Window",
    "Work",
    "WorkKind",
    "cycles_of",
    "next_tasks",
]
