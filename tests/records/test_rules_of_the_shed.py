"""Deliveries, intakes, what sorting found, and lots."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from records.models import CoOp, CoOpGrade, Delivery, HarvestWeight, Lot, LotLine
from records.services.saving import save
from tests.cast import Cast, Place
from tests.records.making import faults_of, line, make_intake

RECEIVED = dt.date(2026, 9, 11)


@pytest.fixture(autouse=True)
def today(settings: Any) -> None:
    settings.AS_OF = dt.date(2026, 10, 1)


def make_lot(rows: Any = None, **values: Any) -> Lot:
    lot: Lot = save(Lot(**{"code": "L-0911", "packed_on": RECEIVED, **values}), **(rows or {}))
    return lot


def make_weight(place: Place, **values: Any) -> HarvestWeight:
    weight: HarvestWeight = save(
        HarvestWeight(
            **{
                "farm": place.farm,
                "block": place.block,
                "picked_on": dt.date(2026, 9, 10),
                "weight": Decimal(50),
                "unit": "kg",
                **values,
            }
        )
    )
    return weight


# Deliveries --------------------------------------------------------------------------------------


def test_a_delivery_joins_many_weighings_to_several_intakes(cast: Cast) -> None:
    weights = [make_weight(cast.ours), make_weight(cast.ours)]
    delivery = save(
        Delivery(farm=cast.ours.farm, co_op=cast.co_op, delivered_on=RECEIVED), weights=weights
    )
    intakes = [make_intake(cast.ours, delivery=delivery, co_op=cast.co_op) for _ in "ab"]
    assert set(delivery.weights.all()) == set(weights)
    assert set(delivery.intakes.all()) == set(intakes)


def test_fruit_is_picked_before_it_is_delivered(cast: Cast) -> None:
    day = dt.date(2026, 9, 9)
    with pytest.raises(ValidationError) as caught:
        save(Delivery(farm=cast.ours.farm, delivered_on=day), weights=[make_weight(cast.ours)])
    assert faults_of(caught.value) == {"weights": ["picked-after-delivery"]}


def test_fruit_is_delivered_before_it_is_received(cast: Cast) -> None:
    delivery = save(Delivery(farm=cast.ours.farm, delivered_on=RECEIVED))
    with pytest.raises(ValidationError) as caught:
        make_intake(cast.ours, delivery=delivery, received_on=dt.date(2026, 9, 10))
    assert faults_of(caught.value) == {"delivery": ["received-before-delivery"]}


# Intakes -----------------------------------------------------------------------------------------


def test_an_intakes_net_is_gross_less_containers_times_tare(cast: Cast) -> None:
    intake = make_intake(
        cast.ours,
        weight=Decimal("120.5"),
        weight_kind="gross",
        containers=10,
        container=cast.ours.container,
    )
    assert intake.net_g == 120_500 - 10 * 1_500


def test_pounds_become_whole_grams(cast: Cast) -> None:
    # 1 lb = 453.59237 g exactly: NIST Handbook 44, Appendix C (value from memory).
    assert make_intake(cast.ours, weight=Decimal(25), unit="lb").net_g == 11_340


def test_containers_heavier_than_the_scale_showed_are_refused(cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        make_intake(cast.ours, weight=Decimal(1), weight_kind="gross", tare_g=1_001)
    assert faults_of(caught.value) == {"tare_g": ["tare-above-gross"]}


def test_the_co_op_receives_from_its_members_of_the_day(cast: Cast) -> None:
    assert make_intake(cast.ours, co_op=cast.co_op).co_op == cast.co_op
    cast.membership.ends_on = dt.date(2026, 9, 10)
    cast.membership.save()
    with pytest.raises(ValidationError) as caught:
        make_intake(cast.ours, co_op=cast.co_op)
    assert faults_of(caught.value) == {"co_op": ["no-member"]}


def test_sorting_gives_kilos_by_grade_and_rejects_with_a_reason(cast: Cast) -> None:
    intake = make_intake(
        cast.ours,
        {
            "sorted_weights": [
                line(70, grade=cast.ours.grade),
                line(20, grade=cast.ours.cull),
                line(5, reject_reason="split"),
            ]
        },
    )
    found = intake.sorted_weights.order_by("-net_g")
    assert [(one.net_g, one.reject_reason) for one in found] == [
        (70_000, ""),
        (20_000, ""),
        (5_000, "split"),
    ]


@pytest.mark.parametrize(
    ("kilos", "is_refused"),
    [
        ([60, 40], False),
        ([60, 40.5], False),  # within half a percent, a second scale's error
        ([60, 40.502], False),  # and a gram a line
        ([60, 40.503], True),
        ([101], True),
    ],
)
def test_grades_do_not_exceed_the_net(kilos: list[float], is_refused: bool, cast: Cast) -> None:
    lines = [line(each, grade=cast.ours.grade) for each in kilos]
    if not is_refused:
        assert make_intake(cast.ours, {"sorted_weights": lines}).sorted_weights.count() == len(
            kilos
        )
        return
    with pytest.raises(ValidationError) as caught:
        make_intake(cast.ours, {"sorted_weights": lines})
    assert faults_of(caught.value) == {"sorted_weights": ["grades-above-net"]}


def test_a_corrected_net_still_covers_its_grades(cast: Cast) -> None:
    intake = make_intake(cast.ours, {"sorted_weights": [line(90, grade=cast.ours.grade)]})
    intake.weight = Decimal(80)
    with pytest.raises(ValidationError) as caught:
        save(intake)
    assert faults_of(caught.value) == {"sorted_weights": ["grades-above-net"]}


def test_a_co_ops_grade_is_used_by_that_co_op(cast: Cast) -> None:
    other = CoOp.objects.create(code="OTHER", name="The other one")
    theirs, own = (
        CoOpGrade.objects.create(co_op=co_op, code="I", is_marketable=True)
        for co_op in (other, cast.co_op)
    )
    make_intake(cast.ours, {"sorted_weights": [line(9, co_op_grade=own)]}, co_op=cast.co_op)
    with pytest.raises(ValidationError) as caught:
        make_intake(cast.ours, {"sorted_weights": [line(9, co_op_grade=theirs)]}, co_op=cast.co_op)
    assert faults_of(caught.value) == {"sorted_weights": ["grade-of-another-co-op"]}


def test_another_farms_grade_is_refused(cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        make_intake(cast.ours, {"sorted_weights": [line(9, grade=cast.neighbour.grade)]})
    assert faults_of(caught.value) == {"sorted_weights": ["other-farm"]}


# Lots --------------------------------------------------------------------------------------------


def test_a_lot_mixes_farms_and_an_intake_fills_several_lots(cast: Cast) -> None:
    cast.neighbour.farm.memberships.create(co_op=cast.co_op, starts_on=dt.date(2020, 1, 1))
    ours, theirs = (make_intake(p, co_op=cast.co_op) for p in (cast.ours, cast.neighbour))
    mixed = make_lot({"lines": [line(60, intake=ours), line(100, intake=theirs)]}, co_op=cast.co_op)
    make_lot({"lines": [line(40, intake=ours)]}, co_op=cast.co_op, code="L-0912")
    assert {one.farm_id for one in mixed.lines.all()} == {cast.ours.farm.pk, cast.neighbour.farm.pk}
    assert LotLine.objects.filter(intake=ours).count() == 2


def test_no_more_is_packed_than_was_received(cast: Cast) -> None:
    intake = make_intake(cast.ours)
    make_lot({"lines": [line(70, intake=intake)]}, farm=cast.ours.farm)
    with pytest.raises(ValidationError) as caught:
        make_lot({"lines": [line(31, intake=intake)]}, farm=cast.ours.farm, code="L-2")
    assert faults_of(caught.value) == {"lines": ["packed-above-net"]}
    intake.weight = Decimal(69)
    with pytest.raises(ValidationError) as caught:
        save(intake)
    assert faults_of(caught.value) == {"weight": ["packed-above-net"]}


def test_a_lot_holds_what_its_packer_received(cast: Cast) -> None:
    ours = make_intake(cast.ours)
    with pytest.raises(ValidationError) as caught:
        make_lot({"lines": [line(1, intake=ours)]}, co_op=cast.co_op)
    assert faults_of(caught.value) == {"lines": ["intake-elsewhere"]}
    with pytest.raises(ValidationError):
        make_lot({"lines": [line(1, intake=ours)]}, farm=cast.neighbour.farm)


def test_an_intake_is_named_once_a_lot(cast: Cast) -> None:
    intake = make_intake(cast.ours)
    lines = [line(1, intake=intake), line(2, intake=intake)]
    with pytest.raises(ValidationError) as caught:
        make_lot({"lines": lines}, farm=cast.ours.farm)
    assert faults_of(caught.value) == {"lines": ["intake-twice"]}


def test_fruit_is_received_before_it_is_packed(cast: Cast) -> None:
    intake = make_intake(cast.ours)
    early = RECEIVED - dt.timedelta(days=1)
    with pytest.raises(ValidationError) as caught:
        make_lot({"lines": [line(1, intake=intake)]}, farm=cast.ours.farm, packed_on=early)
    assert faults_of(caught.value) == {"lines": ["packed-before-intake"]}
    lot = make_lot({"lines": [line(1, intake=intake)]}, farm=cast.ours.farm)
    lot.packed_on = early
    with pytest.raises(ValidationError) as caught:
        save(lot)
    assert faults_of(caught.value) == {"packed_on": ["packed-before-intake"]}


@pytest.mark.parametrize("field", ["packed_on", "shipped_on"])
def test_a_lot_is_not_of_the_future(field: str, cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        make_lot(co_op=cast.co_op, **{field: dt.date(2026, 10, 2)})
    assert faults_of(caught.value) == {field: ["in-the-future"]}
