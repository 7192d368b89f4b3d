"""How a plan for a further crop stands on a day."""

from datetime import date

import pytest

from planning.compute.crop_plans import Done, State, Work, standing_of

PLANNED = date(2026, 6, 15)
STRIPPED = Done(record="s", kind="leaf-stripping", on=date(2026, 6, 14))
PRUNED = Done(record="p", kind="pruning", on=date(2026, 6, 16))
WEEDED = Done(record="w", kind="weeding", on=PLANNED)

STANDINGS = [
    # Nothing recorded: it is still to come, until a month after.
    (Work.STRIP_AND_PRUNE, [], date(2026, 5, 1), State.PLANNED, None),
    (Work.STRIP_AND_PRUNE, [], date(2026, 7, 15), State.PLANNED, None),
    (Work.STRIP_AND_PRUNE, [], date(2026, 7, 16), State.MISSED, None),
    # Either counts, the first of them.
    (Work.STRIP_AND_PRUNE, [PRUNED, STRIPPED], date(2026, 7, 1), State.DONE, "s"),
    # Only its own kind counts where one is planned.
    (Work.PRUNING, [PRUNED, STRIPPED], date(2026, 7, 1), State.DONE, "p"),
    (Work.PRUNING, [STRIPPED, WEEDED], date(2026, 7, 1), State.PLANNED, None),
    (Work.LEAF_STRIPPING, [PRUNED, STRIPPED], date(2026, 7, 1), State.DONE, "s"),
    # The year's own pruning is too long ago to be this.
    (
        Work.PRUNING,
        [Done(record="march", kind="pruning", on=date(2026, 3, 7))],
        date(2026, 7, 1),
        State.PLANNED,
        None,
    ),
    # From two weeks before to a month after.
    (Work.PRUNING, [Done(record="x", kind="pruning", on=date(2026, 6, 1))], PLANNED, "done", "x"),
    (
        Work.PRUNING,
        [Done(record="x", kind="pruning", on=date(2026, 5, 31))],
        PLANNED,
        "planned",
        None,
    ),
]


@pytest.mark.parametrize(("work", "recorded", "today", "state", "record"), STANDINGS)
def test_a_plan_stands_as_the_records_say(
    work: Work, recorded: list[Done], today: date, state: str, record: str | None
) -> None:
    standing = standing_of(PLANNED, work, recorded, today)
    assert (standing.state, standing.done and standing.done.record) == (state, record)


def test_it_says_why() -> None:
    told = standing_of(PLANNED, Work.STRIP_AND_PRUNE, [STRIPPED], PLANNED).reason
    assert told == "Leaf stripping on 2026-06-14; it was planned for 2026-06-15."
    missed = standing_of(PLANNED, Work.STRIP_AND_PRUNE, [], date(2026, 8, 1)).reason
    assert missed.startswith("No pruning or leaf stripping is recorded from 2026-06-01 to")
