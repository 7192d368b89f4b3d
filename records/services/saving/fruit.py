"""Rules of fruit counts and samples."""

import datetime as dt

from records.choices import CountedOn
from records.models import FruitCount, FruitSample, PollinationRound
from records.services.saving.dates import check_not_in_future
from records.services.saving.faults import fault
from records.services.saving.links import Given, check_in_block, linked


def prepare_fruit_count(count: FruitCount, given: Given) -> None:
    check_not_in_future(count)
    check_in_block(count, linked(count, given, "trees"))
    rounds: list[PollinationRound] = linked(count, given, "rounds")
    if count.counted == CountedOn.WHOLE_TREES:
        if rounds:
            text = "Whole trees include natural fruit, so they count for no round."
            raise fault("rounds", text, "rounds-of-whole-trees")
        return
    _check_marks(count, rounds)


def _check_marks(count: FruitCount, rounds: list[PollinationRound]) -> None:
    """Marked flowers are those of rounds, pollinated by then, and no more than were marked."""
    if not rounds:
        raise fault("rounds", "Name the rounds whose marked flowers were looked at.", "no-rounds")
    for round_ in rounds:
        check_round(round_, count, "rounds", count.counted_on)
    marked = sum(round_.flowers for round_ in rounds)
    if count.flowers_looked_at is not None and count.flowers_looked_at > marked:
        text = f"Only {marked} flowers were marked in these rounds."
        raise fault("flowers_looked_at", text, "above-marked")


def prepare_fruit_sample(sample: FruitSample, given: Given) -> None:
    check_not_in_future(sample)
    if sample.tree_id:
        check_in_block(sample, [sample.tree], "tree")
    if sample.round_id:
        check_round(sample.round, sample, "round", sample.sampled_on)


def check_round(
    round_: PollinationRound, record: FruitCount | FruitSample, field: str, day: dt.date
) -> None:
    if round_.block_id != record.block_id:
        raise fault(field, "This round was in another block.", "round-in-another-block")
    if round_.pollinated_on > day:
        raise fault(field, f"This round was only on {round_.pollinated_on}.", "before-the-round")
