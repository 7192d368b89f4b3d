"""The pollination plan of a bloom: visits, flowers, hours, and whether the crew can do it.

What a visit can use is what is receptive on its day (`curve`, `visits`); what a crew does with
too little time follows a rule that people can follow (`crew`). Sources stand beside the figures
and formulas there.
"""

from planning.compute.labour.crew import crew_plan
from planning.compute.labour.curve import MIDDLE_SHARE, Bloom, OpenedSoFar, bloom_as_counted
from planning.compute.labour.fit import crew_fit, people_needed
from planning.compute.labour.values import (
    BlockPlan,
    ByFlower,
    ByTree,
    CrewFit,
    DayWork,
    DoneVisit,
    Extras,
    Hours,
    LabourError,
    Pace,
    Session,
    Shortfall,
    Target,
    Visit,
)
from planning.compute.labour.visits import BlockBloom, visit_on, visits_of

__all__ = [
    "MIDDLE_SHARE",
    "BlockBloom",
    "BlockPlan",
    "Bloom",
    "ByFlower",
    "ByTree",
    "CrewFit",
    "DayWork",
    "DoneVisit",
    "Extras",
    "Hours",
    "LabourError",
    "OpenedSoFar",
    "Pace",
    "Session",
    "Shortfall",
    "Target",
    "Visit",
    "bloom_as_counted",
    "crew_fit",
    "crew_plan",
    "people_needed",
    "visit_on",
    "visits_of",
]
