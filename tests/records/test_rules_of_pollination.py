"""A round is one mother cultivar, one method, one pollen batch and one bagging, on one day."""

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from records.models import Graft, PollinationRound
from records.services.saving import save
from tests.cast import Cast, make_cultivar
from tests.records.making import (
    BLOOM,
    COLLECTED,
    faults_of,
    make_batch,
    make_block,
    make_count,
    make_round,
    make_tree,
)


def test_a_round_covers_many_trees_with_flowers_in_total(cast: Cast) -> None:
    trees = [cast.ours.tree, make_tree(cast.ours, 2)]
    round_ = make_round(cast.ours, {"trees": trees})
    assert set(round_.trees.all()) == set(trees)
    assert [link.flowers for link in round_.tree_links.all()] == [None, None]


def test_flowers_by_tree_add_up_to_the_total(cast: Cast) -> None:
    trees = [cast.ours.tree, make_tree(cast.ours, 2)]
    counted = {trees[0].pk: 25, trees[1].pk: 15}
    round_ = make_round(cast.ours, {"trees": trees, "flowers_by_tree": counted})
    assert {link.tree_id: link.flowers for link in round_.tree_links.all()} == counted


@pytest.mark.parametrize(
    ("numbers", "code"),
    [
        ([25, 16], "sum-differs"),  # one flower too many
        ([25], "sum-differs"),  # a tree left uncounted
    ],
)
def test_flowers_by_tree_that_do_not_add_up_are_refused(
    numbers: list[int], code: str, cast: Cast
) -> None:
    trees = [cast.ours.tree, make_tree(cast.ours, 2)]
    counted = {tree.pk: number for tree, number in zip(trees, numbers, strict=False)}
    with pytest.raises(ValidationError) as caught:
        make_round(cast.ours, {"trees": trees, "flowers_by_tree": counted})
    assert faults_of(caught.value) == {"flowers_by_tree": [code]}


def test_flowers_of_a_tree_outside_the_round_are_refused(cast: Cast) -> None:
    counted = {make_tree(cast.ours, 2).pk: 40}
    with pytest.raises(ValidationError) as caught:
        make_round(cast.ours, {"trees": [cast.ours.tree], "flowers_by_tree": counted})
    assert faults_of(caught.value) == {"flowers_by_tree": ["other-tree"]}


def test_a_changed_total_must_still_suit_the_flowers_by_tree(cast: Cast) -> None:
    counted = {cast.ours.tree.pk: 40}
    round_ = make_round(cast.ours, {"trees": [cast.ours.tree], "flowers_by_tree": counted})
    round_.flowers = 41
    with pytest.raises(ValidationError) as caught:
        save(round_, trees=[cast.ours.tree])
    assert faults_of(caught.value) == {"flowers_by_tree": ["sum-differs"]}
    round_ = PollinationRound.objects.get(pk=round_.pk)
    round_.flowers = 41
    with pytest.raises(ValidationError):
        save(round_)


def test_another_mother_cultivar_is_another_round(cast: Cast) -> None:
    other = make_tree(cast.ours, 2, cultivar=make_cultivar("Brumel"))
    with pytest.raises(ValidationError) as caught:
        make_round(cast.ours, {"trees": [cast.ours.tree, other]})
    assert faults_of(caught.value) == {"trees": ["other-cultivar"]}


def test_a_tree_worked_over_to_the_mother_cultivar_is_one_of_its_trees(cast: Cast) -> None:
    other = make_tree(cast.ours, 2, cultivar=make_cultivar("Brumel"))
    graft = Graft(farm=cast.ours.farm, tree=other, cultivar=make_cultivar())
    graft.grafted_on = BLOOM
    save(graft)
    assert list(make_round(cast.ours, {"trees": [other]}).trees.all()) == [other]


def test_trees_of_another_block_are_refused(cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        make_round(cast.ours, {"trees": [cast.ours.tree]}, block=make_block(cast.ours))
    assert faults_of(caught.value) == {"trees": ["tree-in-another-block"]}


def test_trees_of_another_farm_are_refused(cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        make_round(cast.ours, {"trees": [cast.neighbour.tree]})
    assert faults_of(caught.value) == {"trees": ["other-farm"]}


def test_a_round_tomorrow_is_refused(cast: Cast, settings: Any) -> None:
    settings.AS_OF = BLOOM - dt.timedelta(days=1)
    batch = make_batch(cast.ours, collected_at=COLLECTED - dt.timedelta(days=1))
    with pytest.raises(ValidationError) as caught:
        make_round(cast.ours, pollen_batch=batch)
    assert faults_of(caught.value) == {"pollinated_on": ["in-the-future"]}


def test_pollen_is_collected_before_it_is_used(cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        make_round(cast.ours, started_at=dt.time(6, 29))
    assert faults_of(caught.value) == {"pollen_batch": ["pollen-of-the-future"]}


def test_moving_a_batch_behind_its_round_is_refused(cast: Cast) -> None:
    round_ = make_round(cast.ours, started_at=dt.time(8, 0))
    batch = round_.pollen_batch
    batch.collected_at += dt.timedelta(hours=3)
    with pytest.raises(ValidationError) as caught:
        save(batch)
    assert faults_of(caught.value) == {"collected_at": ["pollen-of-the-future"]}


def test_fewer_flowers_than_a_count_looked_at_are_refused(cast: Cast) -> None:
    round_ = make_round(cast.ours)
    make_count(cast.ours, [round_], flowers_looked_at=30)
    round_.flowers = 29
    with pytest.raises(ValidationError) as caught:
        save(round_)
    assert faults_of(caught.value) == {"flowers": ["below-counted"]}


# Pollen batches ----------------------------------------------------------------------------------


def test_a_batch_has_several_donors(cast: Cast) -> None:
    donors = {
        "donor_trees": [cast.ours.tree, make_tree(cast.ours, 2)],
        "donor_cultivars": [make_cultivar("Brumel")],
    }
    batch = make_batch(cast.ours, donors)
    assert (batch.donor_trees.count(), batch.donor_cultivars.count()) == (2, 1)


def test_a_batch_without_donors_is_refused(cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        make_batch(cast.ours, {"donor_trees": []})
    assert faults_of(caught.value) == {"donor_trees": ["no-donors"]}


def test_a_batch_is_dated_by_the_farms_own_clock(cast: Cast) -> None:
    late = dt.datetime(2026, 5, 19, 23, 30, tzinfo=dt.UTC)  # half past midnight in Madeira
    assert make_batch(cast.ours, collected_at=late).collected_on == BLOOM


@pytest.mark.parametrize(
    ("storage_c", "started_at", "day", "is_old"),
    [
        (None, dt.time(8, 0), 0, False),  # 90 minutes at the temperature of the air
        (None, dt.time(8, 1), 0, True),
        (24, dt.time(8, 1), 0, True),  # kept, but warm
        (4, dt.time(6, 30), 3, False),  # three days in the refrigerator
        (4, dt.time(6, 31), 3, True),
        (4, None, 3, False),  # no hour: not sure to be too old
        (4, None, 4, True),
        (None, None, 0, False),
        (-80, dt.time(6, 31), 90, False),  # frozen pollen keeps for months
    ],
)
def test_old_pollen_is_a_warning(
    storage_c: int | None, started_at: dt.time | None, day: int, is_old: bool, cast: Cast
) -> None:
    # 90 minutes: La Mayora, record 10261/5413; about three days chilled: du Preez 2001.
    batch = make_batch(cast.ours, storage_c=storage_c)
    round_ = make_round(
        cast.ours,
        pollen_batch=batch,
        started_at=started_at,
        pollinated_on=BLOOM + dt.timedelta(days=day),
    )
    found = [(one["code"], one["pointer"]) for one in round_.warnings]
    assert found == ([("pollen-old", "/pollen_batch")] if is_old else [])


def test_pollen_age_counts_in_minutes_and_only_where_the_hour_is_known(cast: Cast) -> None:
    assert make_round(cast.ours, started_at=dt.time(8, 15)).pollen_age_minutes == 105
    assert make_round(cast.ours).pollen_age_minutes is None
    assert make_round(cast.ours, method="natural").pollen_age_minutes is None


# Own pollen --------------------------------------------------------------------------------------


def test_own_pollen_means_the_same_clone(cast: Cast) -> None:
    own = make_batch(cast.ours, {"donor_cultivars": [make_cultivar()]})
    sister = make_batch(cast.ours, {"donor_trees": [make_tree(cast.ours, 2)]})
    mixed = make_batch(cast.ours, {"donor_cultivars": [make_cultivar(), make_cultivar("Brumel")]})
    assert make_round(cast.ours, pollen_batch=own).is_self is True
    assert make_round(cast.ours, {"trees": [cast.ours.tree]}, pollen_batch=sister).is_self is True
    assert make_round(cast.ours).is_self is False
    assert make_round(cast.ours, pollen_batch=mixed).is_self is None


def test_own_pollen_of_a_seedling_means_the_same_tree(cast: Cast) -> None:
    one, other = (make_tree(cast.ours, n, mother=cast.ours.tree) for n in (2, 3))
    of_one = make_batch(cast.ours, {"donor_trees": [one]})
    assert make_round(cast.ours, {"trees": [one]}, pollen_batch=of_one).is_self is True
    assert make_round(cast.ours, {"trees": [other]}, pollen_batch=of_one).is_self is False
    assert make_round(cast.ours, {"trees": [one, other]}, pollen_batch=of_one).is_self is None


def test_flowers_left_alone_have_own_pollen_only_in_a_bag(cast: Cast) -> None:
    assert make_round(cast.ours, method="natural").is_self is None
    assert make_round(cast.ours, method="bagged", is_bagged=True).is_self is True


def test_own_pollen_follows_a_corrected_batch_and_a_corrected_tree(cast: Cast) -> None:
    donor = make_tree(cast.ours, 2)
    batch = make_batch(cast.ours, {"donor_trees": [donor]})
    round_ = make_round(cast.ours, {"trees": [cast.ours.tree]}, pollen_batch=batch)
    assert round_.is_self is True
    donor.cultivar = make_cultivar("Brumel")
    save(donor)
    round_.refresh_from_db()
    assert round_.is_self is False
    save(batch, donor_trees=[cast.ours.tree])
    round_.refresh_from_db()
    assert round_.is_self is True
