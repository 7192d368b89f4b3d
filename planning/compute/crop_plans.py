"""How a plan for a further crop stands: still to come, done by a record, or missed.

A plan is done by the first pruning or leaf stripping of its kind on the block within so many days
of the planned one; leaf stripping and pruning together may be recorded as either. Two weeks before
and a month after are assumed: how late is too late, nobody says. That such a crop returns little
for sure is common practice, no source; in Almeria, cherimoya that was pruned in January, tipped
and stripped of its apical leaves in June bloomed in July and was picked about 50 days after the
ordinary crop (Soler & Cuevas 2008, HortTechnology 18(1): 24).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

EARLY = timedelta(days=14)
LATE = timedelta(days=30)


class Work(StrEnum):
    STRIP_AND_PRUNE = "strip-and-prune"
    PRUNING = "pruning"
    LEAF_STRIPPING = "leaf-stripping"


class State(StrEnum):
    PLANNED = "planned"
    DONE = "done"
    MISSED = "missed"


# What a plan's work is recorded as.
KINDS = {
    Work.STRIP_AND_PRUNE: (Work.PRUNING.value, Work.LEAF_STRIPPING.value),
    Work.PRUNING: (Work.PRUNING.value,),
    Work.LEAF_STRIPPING: (Work.LEAF_STRIPPING.value,),
}
NOUNS = {
    Work.STRIP_AND_PRUNE: "pruning or leaf stripping",
    Work.PRUNING: "pruning",
    Work.LEAF_STRIPPING: "leaf stripping",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """Work recorded on the plan's block; `kind` as task logs name it."""

    record: str
    kind: str
    on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How a plan stands, by which record, and why."""

    state: State
    done: Done | None
    reason: str


def standing_of(planned_on: date, work: Work, recorded: Iterable[Done], today: date) -> Standing:
    """The plan's state on a day, by what is recorded of its block."""
    first, last = planned_on - EARLY, planned_on + LATE
    fitting = [done for done in recorded if done.kind in KINDS[work] and first <= done.on <= last]
    noun = NOUNS[work]
    if fitting:
        done = min(fitting, key=lambda each: (each.on, each.record))
        told = done.kind.replace("-", " ").capitalize()
        return Standing(
            state=State.DONE,
            done=done,
            reason=f"{told} on {done.on}; it was planned for {planned_on}.",
        )
    if today > last:
        text = f"No {noun} is recorded from {first} to {last}; it was planned for {planned_on}."
        return Standing(state=State.MISSED, done=None, reason=text)
    text = f"Planned for {planned_on}; {noun} from {first} to {last} counts as done."
    return Standing(state=State.PLANNED, done=None, reason=text)
