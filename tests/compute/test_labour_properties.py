"""What holds for every pollination plan and crew, whatever the farm."""

from collections import defaultdict
from datetime import date, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from planning.compute.labour import (
    BlockBloom,
    Bloom,
    ByFlower,
    ByTree,
    OpenedSoFar,
    Session,
    Target,
    crew_plan,
    visits_of,
)

MAY = date(2026, 5, 1)
DAYS = [MAY + timedelta(days=n) for n in range(30)]
# Hours of three species, two of which overlap.
HOURS = {
    "dawn": [Session(from_minute=300, to_minute=480)],
    "morning": [Session(from_minute=420, to_minute=660)],
    "dusk": [Session(from_minute=330, to_minute=390), Session(from_minute=960, to_minute=1080)],
}
targets = st.none() | st.builds(
    Target,
    fruit_per_tree=st.floats(0, 60),
    expected_set=st.floats(0.3, 1),
    expected_retention=st.floats(0.3, 1),
)
paces = st.builds(ByTree, minutes_per_tree=st.floats(1, 30)) | st.builds(
    ByFlower, flowers_per_hour=st.floats(20, 300), walk_minutes_per_tree=st.floats(0, 5)
)


@st.composite
def blooms(draw: st.DrawFn) -> Bloom:
    first, length = draw(st.integers(0, 10)), draw(st.integers(1, 20))
    counts = []
    if length > 3 and draw(st.booleans()):
        on = first + draw(st.integers(0, length - 2))
        counts = [OpenedSoFar(on=DAYS[on], share=draw(st.floats(0, 1)))]
    return Bloom(
        first_on=DAYS[first],
        end_on=DAYS[first + length - 1],
        counts=counts,
        middle_share=draw(st.floats(0.5, 1)),
    )


@st.composite
def a_block(draw: st.DrawFn, name: str) -> BlockBloom:
    sessions = HOURS[draw(st.sampled_from(sorted(HOURS)))]
    return BlockBloom(
        block=name,
        trees=draw(st.integers(0, 40)),
        flowers_per_tree=draw(st.floats(0, 200)),
        bloom=draw(blooms()),
        receptive_days=draw(st.floats(0.25, 5)),
        number=draw(st.integers(1, 6)),
        spacing_days=draw(st.integers(1, 5)),
        pace=draw(paces),
        target=draw(targets),
        hours=dict.fromkeys(DAYS, sessions),
    )


farms = st.integers(1, 4).flatmap(lambda n: st.tuples(*(a_block("ABCD"[i]) for i in range(n))))


@given(blooms())
def test_flowers_only_ever_open_and_all_open_in_the_end(bloom: Bloom) -> None:
    shares = [bloom.opened_by(day) for day in bloom.days]
    assert all(a <= b + 1e-12 for a, b in pairwise([0, *shares]))
    assert shares[-1] == 1
    assert bloom.opened_by(bloom.first_on - timedelta(days=3)) == 0
    for count in bloom.counts:
        assert abs(bloom.opened_by(count.on) - count.share) < 1e-9


@given(a_block("A"))
def test_no_flower_is_counted_twice(block: BlockBloom) -> None:
    plan = visits_of(block)
    assert sum(visit.flowers_in_reach for visit in plan.visits) <= block.flowers_in_bloom + 1e-6
    assert all(visit.flowers <= visit.flowers_in_reach + 1e-9 for visit in plan.visits)
    if block.flowers_wanted is not None:
        assert plan.flowers <= block.flowers_wanted + 1e-6


@given(a_block("A"), st.lists(st.sampled_from(DAYS), min_size=1, max_size=6, unique=True))
def test_nor_on_dates_that_somebody_has_fixed(block: BlockBloom, dates: list[date]) -> None:
    fixed = BlockBloom(**{name: getattr(block, name) for name in FIELDS} | {"dates": dates})
    plan = visits_of(fixed)
    assert [visit.on for visit in plan.visits] == sorted(dates)
    assert sum(visit.flowers_in_reach for visit in plan.visits) <= block.flowers_in_bloom + 1e-6


FIELDS = (
    *("block", "trees", "flowers_per_tree", "bloom", "receptive_days", "number", "spacing_days"),
    *("pace", "target", "hours"),
)


@given(a_block("A"))
def test_visits_keep_their_spacing_and_their_number(block: BlockBloom) -> None:
    dates = [visit.on for visit in visits_of(block).visits]
    assert len(dates) <= block.number
    assert all((b - a).days >= block.spacing_days for a, b in pairwise(dates))
    assert all(block.bloom.first_on <= day <= block.bloom.end_on for day in dates)


@given(farms, st.integers(0, 6))
def test_a_crew_never_works_longer_than_its_sessions(
    blocks: tuple[BlockBloom, ...], crew: int
) -> None:
    work = crew_plan(blocks, {block.block: visits_of(block) for block in blocks}, crew)
    by_name = {block.block: block for block in blocks}
    minutes: dict[tuple[date, str], float] = defaultdict(float)
    for each in work:
        hours = str(by_name[each.block].hours[each.on])
        minutes[each.on, hours] += each.minutes
    lengths = {str(s): sum(x.minutes for x in s) for s in HOURS.values()}
    for (_, hours), spent in minutes.items():
        assert spent <= crew * lengths[hours] + 1e-3
    # Dawn and dusk, morning: the two that overlap cover six hours together, not seven.
    for day in DAYS:
        both = minutes[day, str(HOURS["dawn"])] + minutes[day, str(HOURS["morning"])]
        assert both <= crew * 360 + 1e-3


@given(farms, st.integers(1, 6))
def test_no_tree_is_visited_before_it_has_rested_nor_too_often(
    blocks: tuple[BlockBloom, ...], crew: int
) -> None:
    """Trees are worked in turn, so each one's visits can be followed by its number."""
    work = crew_plan(blocks, {block.block: visits_of(block) for block in blocks}, crew)
    for block in blocks:
        own = [each for each in work if each.block == block.block]
        turn = [each.on for each in own for _ in range(each.trees)]
        assert len(turn) <= block.trees * block.number
        for tree in range(min(block.trees, len(turn))):
            visits = turn[tree :: block.trees]
            assert all((b - a).days >= block.rest_days for a, b in pairwise(visits))


@given(farms, st.integers(1, 6))
def test_a_crew_pollinates_no_more_than_there_is_and_than_is_wanted(
    blocks: tuple[BlockBloom, ...], crew: int
) -> None:
    work = crew_plan(blocks, {block.block: visits_of(block) for block in blocks}, crew)
    for block in blocks:
        own = [each for each in work if each.block == block.block]
        flowers = sum(each.flowers for each in own)
        assert flowers <= block.flowers_in_bloom + 1e-6
        if block.flowers_wanted is not None:
            assert flowers <= block.flowers_wanted + 1e-6
        for each in own:
            assert each.flowers <= each.trees * block.per_tree_on(each.on) + 1e-6


@given(farms, st.integers(0, 4))
def test_the_order_of_the_blocks_changes_nothing(blocks: tuple[BlockBloom, ...], crew: int) -> None:
    plans = {block.block: visits_of(block) for block in blocks}
    assert crew_plan(blocks, plans, crew) == crew_plan(blocks[::-1], plans, crew)
