"""The slips in the members' files: one a farm that makes any, in the season before."""

from collections import Counter
from datetime import date

import pytest

from orchard.demo.cast_files import read_cast
from orchard.demo.harvest import Weighing, weighings
from orchard.demo.slips import written

POUND = 2.20462


@pytest.fixture(params=[date(2026, 11, 25), date(2026, 8, 12)])
def differing(request: pytest.FixtureRequest) -> dict[str, tuple[list[Weighing], list[Weighing]]]:
    """By farm: the weighings that were written otherwise, as weighed and as written."""
    cast = read_cast(request.param)
    weighed, told = Counter(weighings(cast)), Counter(written(cast))
    lost, added = (weighed - told).elements(), (told - weighed).elements()
    found: dict[str, tuple[list[Weighing], list[Weighing]]] = {}
    for side, ones in enumerate((lost, added)):
        for one in ones:
            found.setdefault(one.farm, ([], []))[side].append(one)
    return found


def test_each_farm_slips_once_in_the_season_to_be_settled(differing) -> None:
    assert set(differing) == {"BER", "TAL", "TRA", "ZIM"}
    seasons = {one.season_year for sides in differing.values() for side in sides for one in side}
    assert seasons == {2025}


def test_a_decimal_mark_is_left_out(differing) -> None:
    [[weighed], [told]] = differing["ZIM"]
    assert told.gross_g == 10 * weighed.gross_g


def test_pounds_stand_for_kilos(differing) -> None:
    [[weighed], [told]] = differing["TRA"]
    assert told.net_g / weighed.net_g == pytest.approx(POUND, rel=0.005)


def test_day_and_month_are_swapped(differing) -> None:
    weighed, told = differing["BER"]
    assert {(one.picked_on.month, one.picked_on.day) for one in weighed} == {
        (one.picked_on.day, one.picked_on.month) for one in told
    }


def test_a_docket_is_written_twice(differing) -> None:
    weighed, told = differing["TAL"]
    assert not weighed
    assert len(told) > 1
    assert {one.docket for one in told} == {f"{told[0].docket.rstrip('A')}A"}
