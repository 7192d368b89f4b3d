"""Set shares come only from counts of marked flowers, with the number looked at."""

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from records.models import FruitSample
from records.services.saving import save
from tests.cast import Cast
from tests.records.making import BLOOM, faults_of, make_block, make_count, make_round


def test_a_count_of_marked_flowers_gives_a_set_share(cast: Cast) -> None:
    count = make_count(cast.ours, [make_round(cast.ours)], flowers_looked_at=20, fruit=18)
    assert count.set_share == 0.9


def test_a_sample_keeps_its_own_denominator(cast: Cast) -> None:
    count = make_count(
        cast.ours, [make_round(cast.ours, flowers=40)], flowers_looked_at=10, fruit=8
    )
    assert count.set_share == 0.8


def test_rounds_whose_marks_do_not_tell_visits_apart_share_one_count(cast: Cast) -> None:
    rounds = [make_round(cast.ours), make_round(cast.ours)]
    count = make_count(cast.ours, rounds, flowers_looked_at=80, fruit=60)
    assert count.set_share == 0.75
    assert set(count.rounds.all()) == set(rounds)


def test_whole_tree_counts_never_give_a_set_share(cast: Cast) -> None:
    whole = {"counted": "whole-trees", "flowers_looked_at": None, "trees_looked_at": 5}
    assert make_count(cast.ours, [], fruit=120, **whole).set_share is None


def test_thinned_fruit_gives_no_set_share(cast: Cast) -> None:
    thinned = make_count(
        cast.ours, [make_round(cast.ours)], kind="thinned", thinned_because="crowded"
    )
    assert thinned.set_share is None


def test_whole_trees_count_for_no_round(cast: Cast) -> None:
    whole = {"counted": "whole-trees", "flowers_looked_at": None, "trees_looked_at": 5}
    with pytest.raises(ValidationError) as caught:
        make_count(cast.ours, [make_round(cast.ours)], **whole)
    assert faults_of(caught.value) == {"rounds": ["rounds-of-whole-trees"]}


@pytest.mark.parametrize(
    ("values", "fault"),
    [
        ({"flowers_looked_at": 41}, {"flowers_looked_at": ["above-marked"]}),
        ({"counted_on": BLOOM - dt.timedelta(days=1)}, {"rounds": ["before-the-round"]}),
        ({"counted_on": dt.date(2026, 12, 31)}, {"counted_on": ["in-the-future"]}),
    ],
)
def test_a_count_of_marks_fits_its_rounds(
    values: dict[str, Any], fault: dict[str, list[str]], cast: Cast, settings: Any
) -> None:
    settings.AS_OF = dt.date(2026, 11, 1)
    round_ = make_round(cast.ours, flowers=40)
    with pytest.raises(ValidationError) as caught:
        make_count(cast.ours, [round_], **values)
    assert faults_of(caught.value) == fault


def test_a_count_of_marks_names_its_rounds(cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        make_count(cast.ours, [])
    assert faults_of(caught.value) == {"rounds": ["no-rounds"]}


def test_rounds_of_another_block_are_refused(cast: Cast) -> None:
    elsewhere = make_round(cast.ours, block=make_block(cast.ours))
    with pytest.raises(ValidationError) as caught:
        make_count(cast.ours, [elsewhere])
    assert faults_of(caught.value) == {"rounds": ["round-in-another-block"]}


def make_sample(cast: Cast, **values: Any) -> FruitSample:
    sample = FruitSample(
        **{
            "farm": cast.ours.farm,
            "block": cast.ours.block,
            "sampled_on": dt.date(2026, 9, 1),
            "weight_g": 310,
            **values,
        }
    )
    saved: FruitSample = save(sample)
    return saved


def test_a_sample_comes_from_a_round_a_tree_or_a_block(cast: Cast) -> None:
    round_ = make_round(cast.ours)
    sources: list[dict[str, Any]] = [{"round": round_}, {"tree": cast.ours.tree}, {}]
    samples = [make_sample(cast, **source) for source in sources]
    assert [(s.round_id, s.tree_id) for s in samples] == [
        (round_.pk, None),
        (None, cast.ours.tree.pk),
        (None, None),
    ]


def test_a_fruit_is_older_than_its_round(cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        make_sample(cast, round=make_round(cast.ours), sampled_on=BLOOM - dt.timedelta(days=1))
    assert faults_of(caught.value) == {"round": ["before-the-round"]}


def test_a_sampled_tree_stands_in_the_block(cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        make_sample(cast, tree=cast.ours.tree, block=make_block(cast.ours))
    assert faults_of(caught.value) == {"tree": ["tree-in-another-block"]}
