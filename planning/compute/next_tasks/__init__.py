"""What is due next in each block, by its task rules and what was recorded.

A rule is set off by a yearly window of dates, by work or a growth stage of the crop (seen or
forecast), by an event of its season, or by the heat since one of these. It may repeat, each time
counted from the actual day of the last, until so many times, so many days, or a stage that ends
it; and it may hold only while a record is missing. Dates are farm-local and inclusive:

* coming before `opens`, open from `opens` to `best`, overdue after `best` up to `closes`,
  missed after `closes`
* done when work of the kind is on record, so many days late where that was after `best`;
  skipped, with a reason, when somebody decided so and nobody did it

Everything follows from the records alone, so they may come in any order, and be corrected and
removed. What cannot be known gives no date: the rule is reported as waiting, with what it waits
for. Figures of the default rules and their sources are in `annona`.
"""

from planning.compute.next_tasks.cycles import (
    CropFacts,
    SeasonDays,
    cycles_of,
)
from planning.compute.next_tasks.heat import (
    Heat,
)
from planning.compute.next_tasks.plan import (
    next_tasks,
)
from planning.compute.next_tasks.rules import (
    Condition,
    NoneYet,
    Repeat,
    TaskRule,
    UncountedRound,
)
from planning.compute.next_tasks.terms import (
    SeasonEvent,
    TaskError,
    Which,
    WorkKind,
)
from planning.compute.next_tasks.triggers import (
    AfterEvent,
    AfterHeat,
    AfterStage,
    AfterWork,
    BeforeStage,
    DateWindow,
    Stages,
    Trigger,
)
from planning.compute.next_tasks.values import (
    BlockYear,
    Choice,
    Cycle,
    Effort,
    Hours,
    NextTask,
    Planned,
    Schedule,
    Session,
    StageForecast,
    StageSeen,
    TaskState,
    Waiting,
    Work,
)
from planning.compute.next_tasks.windows import (
    Days,
    DaysAround,
    MonthDay,
    Window,
)

__all__ = [
    "AfterEvent",
    "AfterHeat",
    "AfterStage",
    "AfterWork",
    "BeforeStage",
    "BlockYear",
    "Choice",
    "Condition",
    "CropFacts",
    "Cycle",
    "DateWindow",
    "Days",
    "DaysAround",
    "Effort",
    "Heat",
    "Hours",
    "MonthDay",
    "NextTask",
    "NoneYet",
    "Planned",
    "Repeat",
    "Schedule",
    "SeasonDays",
    "SeasonEvent",
    "Session",
    "StageForecast",
    "StageSeen",
    "Stages",
    "TaskError",
    "TaskRule",
    "TaskState",
    "Trigger",
    "UncountedRound",
    "Waiting",
    "Which",
    "Window",
    "Work",
    "WorkKind",
    "cycles_of",
    "next_tasks",
]
