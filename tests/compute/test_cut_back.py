"""Cut-back by the rules of the species, and what a log says was taken off."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.cut_back import (
    CutBackError,
    Fate,
    Leave,
    Rule,
    Shoot,
    TakeOff,
    compared,
    cut_back,
)

# Common practice, no source: one half to two thirds off each one-year shoot, weak ones go whole.
# How weak is weak, nobody says: half of the median is assumed.
SUGAR_APPLE = Rule(cut=TakeOff(least=1 / 2, most=2 / 3), weak_share=0.5)
# Sanewski 1991 in Paull & Duarte 2011: year-old laterals to 10-15 cm; over 100 cm is excessive.
ATEMOYA = Rule(cut=Leave(least_cm=10, most_cm=15), weak_share=0.5, excessive_cm=100)
SOURSOP = Rule(cut=None, reason="It does not apply: soursop flowers on old wood.")


def shoots(*lengths: float) -> list[Shoot]:
    return [Shoot(length_cm=length) for length in lengths]


def test_half_to_two_thirds_of_a_sugar_apple_shoot_come_off() -> None:
    (advice,) = cut_back(shoots(60), SUGAR_APPLE).shoots
    assert (advice.remove_least_cm, advice.remove_most_cm) == (30, pytest.approx(40))
    assert (advice.leave_least_cm, advice.leave_most_cm) == (pytest.approx(20), 30)
    assert advice.fate is Fate.CUT


LATERALS = [
    (60, Fate.CUT, 45, 50, "Strong."),  # the ideal lateral
    (120, Fate.CUT, 105, 110, "Strong; it grew too strongly."),
    (12, Fate.CUT, 0, 2, "Strong."),  # already between the two
    (9, Fate.LEAVE, 0, 0, "It is no longer than what is left."),
]


@pytest.mark.parametrize(("length", "fate", "least", "most", "why"), LATERALS)
def test_an_atemoya_lateral_is_cut_to_a_length(
    length: float, fate: Fate, least: float, most: float, why: str
) -> None:
    (advice,) = cut_back(shoots(length), ATEMOYA).shoots
    assert (advice.fate, advice.remove_least_cm, advice.remove_most_cm) == (fate, least, most)
    assert advice.why == why


def test_weak_shoots_go_altogether() -> None:
    found = cut_back(shoots(60, 62, 25, 58), SUGAR_APPLE)
    assert [each.fate for each in found.shoots] == [Fate.CUT, Fate.CUT, Fate.REMOVE, Fate.CUT]
    assert (found.shoots[2].remove_least_cm, found.shoots[2].leave_most_cm) == (25, 0)
    assert found.shoots[2].why == "Weak: shorter than 50% of the sample's median of 59 cm."
    assert (found.weak, found.median_cm, found.total_cm) == (1, 59, 205)
    assert found.remove_least_cm == pytest.approx(25 + 90)
    assert found.remove_most_share == pytest.approx((25 + 120) / 205)
    assert found.reason == (
        "Of 4 shoots 1 are weak and go altogether; take 50% to 67% off the length of each strong"
        " shoot."
    )


def test_thin_shoots_are_weak_where_the_farm_says_how_thin() -> None:
    sample = [Shoot(length_cm=60, diameter_mm=9), Shoot(length_cm=60, diameter_mm=4)]
    rule = Rule(cut=TakeOff(least=0.5, most=0.6), weak_mm=5)
    assert [each.fate for each in cut_back(sample, rule).shoots] == [Fate.CUT, Fate.REMOVE]


def test_where_it_does_not_apply_nothing_is_advised() -> None:
    found = cut_back(shoots(60, 20), SOURSOP)
    assert {each.fate for each in found.shoots} == {Fate.UNKNOWN}
    assert (found.remove_least_cm, found.remove_most_share) == (None, None)
    assert found.reason == SOURSOP.reason


def test_a_log_is_held_against_the_rule() -> None:
    found = compared([60, 60, 60, 20], [35, 20, 55, 20], SUGAR_APPLE)
    assert (found.as_advised, found.less, found.more) == (2, 1, 1)
    assert found.removed_share == pytest.approx(130 / 200)
    assert found.advised.weak == 1


def test_a_centimetre_is_neither_less_nor_more() -> None:
    found = compared([60, 60], [29, 41], SUGAR_APPLE)
    assert (found.as_advised, found.less, found.more) == (2, 0, 0)


def test_a_log_of_a_species_without_a_rule_still_has_its_shares() -> None:
    found = compared([60, 0], [30, 0], SOURSOP)
    assert (found.shoots, found.removed_share, found.as_advised) == (1, 0.5, None)


WRONG: list[tuple[Any, str, int | None]] = [
    (lambda: cut_back([], SUGAR_APPLE), "no shoot has been measured", None),
    (lambda: cut_back(shoots(40, 0), SUGAR_APPLE), "shoot 2: a length is above 0", 2),
    (lambda: cut_back(shoots(float("nan")), SUGAR_APPLE), "shoot 1", 1),
    (lambda: cut_back(shoots(1001), SUGAR_APPLE), "up to 1000 cm, not 1001", 1),
    (lambda: cut_back([Shoot(length_cm=9, diameter_mm=0)], SUGAR_APPLE), "a diameter", 1),
    (lambda: cut_back(shoots(*[40] * 1001), SUGAR_APPLE), "more than 1000 shoots", None),
    (lambda: compared([40], [20, 20], SUGAR_APPLE), "of the same shoots", None),
    (lambda: compared([40], [41], SUGAR_APPLE), "41 cm cannot come off 40 cm", 1),
    (lambda: TakeOff(least=0.7, most=0.5), "the least before the most", None),
    (lambda: TakeOff(least=50, most=67), "from 0 to 1", None),
    (lambda: Leave(least_cm=15, most_cm=10), "the least before the most", None),
]


@pytest.mark.parametrize(("make", "told", "shoot"), WRONG)
def test_what_cannot_be_is_refused_and_the_shoot_named(
    make: Any, told: str, shoot: int | None
) -> None:
    with pytest.raises(CutBackError, match=told) as caught:
        make()
    assert caught.value.shoot == shoot


rules = st.sampled_from([SUGAR_APPLE, ATEMOYA])


@given(st.lists(st.floats(0.1, 300), min_size=1, max_size=50), rules)
def test_nothing_longer_than_the_shoot_comes_off_and_the_parts_add_up(
    lengths: list[float], rule: Rule
) -> None:
    found = cut_back(shoots(*lengths), rule)
    for each in found.shoots:
        assert each.remove_least_cm is not None
        assert each.remove_most_cm is not None
        assert 0 <= each.remove_least_cm <= each.remove_most_cm <= each.shoot.length_cm
    assert found.remove_most_cm == pytest.approx(
        sum(each.remove_most_cm or 0 for each in found.shoots)
    )
    assert found.weak < len(lengths), "the median itself is never weak"


@given(st.lists(st.floats(0.1, 300), min_size=1, max_size=50), rules)
def test_who_does_as_advised_is_told_so(lengths: list[float], rule: Rule) -> None:
    advice = cut_back(shoots(*lengths), rule).shoots
    for way in ("remove_least_cm", "remove_most_cm"):
        found = compared(lengths, [getattr(each, way) for each in advice], rule)
        assert found.as_advised == len(lengths)
