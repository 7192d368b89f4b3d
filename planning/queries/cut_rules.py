"""By which rule a block's shoots are cut back, and what its pruning logs say was taken off."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from planning.choices import WorkKind
from planning.compute.cut_back import Comparison, Leave, Rule, TakeOff, compared
from planning.compute.figures import Figure
from planning.queries.figures import FarmFigures, figures_of
from planning.queries.plantings import Planted, planted_blocks
from planning.queries.schedules import blocks_in_use
from records.calendars import calendar
from records.models import Block, Farm, Species, TaskLog

SHARES = ("cut-back-least", "cut-back-most")
LENGTHS = ("lateral-least-cm", "lateral-most-cm")
OTHERS = ("weak-shoot-share", "weak-shoot-mm", "lateral-excessive-cm")
USED = (*SHARES, *LENGTHS, *OTHERS)
NO_SPECIES = "No trees or planting lines of a known species are recorded on this block."


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockRule:
    """A block's species, the rule for its shoots and the figures behind it."""

    species: Species | None
    rule: Rule
    figures: Sequence[Figure]


@dataclass(frozen=True, slots=True, kw_only=True)
class PruningSample:
    """One pruning log with measured shoots; `removed` is None where it only has lengths before."""

    block: Block
    block_rule: BlockRule
    task_log_id: UUID
    done_on: dt.date
    comparison: Comparison
    removed_is_known: bool


def block_rule(block: Block, today: dt.date) -> BlockRule:
    """In five queries."""
    return _of_planted(planted_blocks([block], today).get(block.pk), figures_of(block.farm_id))


def pruning_samples(
    farm: Farm, today: dt.date, *, year: int | None = None, block: Block | None = None
) -> list[PruningSample]:
    """The season's pruning logs that tell of shoots, each against the rule, in eight queries."""
    blocks = {each.pk: each for each in blocks_in_use(farm, today, block.pk if block else None)}
    planted, figures = planted_blocks(list(blocks.values()), today), figures_of(farm.pk)
    rules = {pk: _of_planted(planted.get(pk), figures) for pk in blocks}
    return [
        PruningSample(
            block=blocks[log.block_id],
            block_rule=rules[log.block_id],
            task_log_id=log.pk,
            done_on=log.done_on,
            comparison=_comparison(log.details, rules[log.block_id].rule),
            removed_is_known="shoots_removed_cm" in log.details,
        )
        for log in _logs(farm, blocks, today, year)
        if any(log.details["shoots_before_cm"])
    ]


def _of_planted(planted: Planted | None, farm: FarmFigures) -> BlockRule:
    if planted is None:
        return BlockRule(species=None, rule=Rule(cut=None, reason=NO_SPECIES), figures=())
    alone = planted.cultivars[0].pk if len(planted.cultivars) == 1 else None
    figures = {name: farm.figure(planted.main.code, name, alone) for name in USED}
    return BlockRule(species=planted.main, rule=_rule(figures), figures=list(figures.values()))


def _rule(figures: dict[str, Figure]) -> Rule:
    """By a share where one is in force, else to a length; neither: no rule, and why."""
    least, most = (figures[name].value for name in SHARES)
    least_cm, most_cm = (figures[name].value for name in LENGTHS)
    cut: TakeOff | Leave | None = None
    if least is not None and most is not None:
        cut = TakeOff(least=least, most=most)
    elif least_cm is not None and most_cm is not None:
        cut = Leave(least_cm=least_cm, most_cm=most_cm)
    weak_share, weak_mm, excessive_cm = (figures[name].value for name in OTHERS)
    return Rule(
        cut=cut,
        reason="" if cut else figures[SHARES[0]].reason,
        weak_share=weak_share,
        weak_mm=weak_mm,
        excessive_cm=excessive_cm,
    )


def _logs(farm: Farm, blocks: dict[UUID, Block], today: dt.date, year: int | None) -> Iterator[Any]:
    seasons = calendar([farm])
    rows = TaskLog.objects.filter(
        block_id__in=blocks,
        kind=WorkKind.PRUNING,
        retired_on=None,
        details__has_key="shoots_before_cm",
    ).order_by("done_on", "pk")
    for log in rows:
        season = seasons.season_of(farm.pk, log.block_id, log.done_on)
        wanted = seasons.season_of(farm.pk, log.block_id, today).year if year is None else year
        if season.year == wanted:
            yield log


def _comparison(details: dict[str, Any], rule: Rule) -> Comparison:
    before = [float(length) for length in details["shoots_before_cm"]]
    removed = [float(length) for length in details.get("shoots_removed_cm", [0.0] * len(before))]
    return compared(before, removed, rule)
