"""Whose file it is, by its folder and name; and what several could be is left open."""

from uuid import UUID, uuid4

import pytest

from records.importing.filenames import KnownFarm, Matcher, pattern_of


def known(code: str, name: str = "") -> KnownFarm:
    return KnownFarm(id=uuid4(), code=code, name=name)


FARMS = [
    known("BER", "Quinta da Bérula"),
    known("BER 2", "Bérula de Cima"),
    known("MAL"),
    known("7", "Sete Pedras"),
    known("SET", "Harvest"),
]


def codes(folders: list[str], name: str, **options: object) -> list[str]:
    return [farm.code for farm in Matcher(FARMS, **options).match(folders, name).farms]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("folders", "name", "expected"),
    [
        (["MAL"], "week 37.csv", ["MAL"]),  # the folder's code
        (["mal"], "week 37.csv", ["MAL"]),  # in any case
        (["co-op", "2026", "MAL - week 37"], "x.csv", ["MAL"]),  # a word of a folder's name
        ([], "MAL_2026-09-14.csv", ["MAL"]),  # the name's word
        ([], "2026 09 14 quinta da berula.xlsx", ["BER"]),  # the farm's name, without accents
        ([], "QUINTA DA BÉRULA.xlsx", ["BER"]),
        ([], "normal.csv", []),  # a part of a word is no word
        ([], "BER2.csv", []),
        ([], "BER 2.csv", ["BER", "BER 2"]),  # similar codes: the second file, or the second farm
        (["BER 2"], "x.csv", ["BER 2"]),  # a folder called exactly as one of them
        (["BER 2 week 37"], "x.csv", ["BER", "BER 2"]),
        (["BER"], "BER 2.csv", ["BER"]),  # both agree on one
        (["BER"], "MAL.csv", ["BER", "MAL"]),  # they do not agree
        (["BER", "MAL"], "MAL.csv", ["MAL"]),
        (["7"], "x.csv", ["7"]),  # a number counts as a whole folder's name
        (["week 7"], "x.csv", []),
        ([], "7.csv", []),
        ([], "pesos set 2026.csv", []),  # a month, though it is a code
        ([], "harvest.csv", []),  # a common word, though it is a name
        ([], "2026-09-14.csv", []),
        ([], "", []),
    ],
)
def test_folder_and_name_point_to_farms(folders: list[str], name: str, expected: list[str]) -> None:
    assert codes(folders, name) == expected


@pytest.mark.parametrize(
    ("name", "pattern"),
    [
        ("Rui week 37 2026.csv", "rui week"),
        ("rui week 38.xlsx", "rui week"),
        ("Rui_14-09-2026.csv", "rui"),
        ("Rui setembro 2026.csv", "rui"),
        ("RUÍ.csv", "rui"),
        ("harvest 2026.csv", ""),  # could be any farm's
        ("colheita setembro.csv", ""),
        ("2026-09-14.csv", ""),
        ("a1.csv", ""),
    ],
)
def test_a_name_without_digits_and_dates_is_its_pattern(name: str, pattern: str) -> None:
    assert pattern_of(name) == pattern


def test_earlier_files_tell_where_names_do_not() -> None:
    mal, ber = FARMS[2].id, FARMS[0].id
    earlier: dict[str, set[UUID]] = {"rui week": {mal}, "ana": {mal, ber}, "mal week": {ber}}
    assert codes([], "Rui week 38.csv", earlier=earlier) == ["MAL"]
    assert codes([], "Ana 14.csv", earlier=earlier) == ["BER", "MAL"]
    assert codes([], "MAL week 38.csv", earlier=earlier) == ["MAL"]  # the name itself comes first
    assert codes([], "Zé.csv", earlier=earlier) == []


def test_who_sends_for_one_farm_alone_needs_no_name() -> None:
    found = Matcher(FARMS[:1], only_farm=True).match([], "harvest.csv")
    assert [farm.code for farm in found.farms] == ["BER"]
    assert found.reason == "You send files for this farm alone."
    assert Matcher(FARMS[:2], only_farm=True).match([], "harvest.csv").farms == ()


@pytest.mark.parametrize(
    ("folders", "name", "reason"),
    [
        (["MAL"], "x.csv", "The folder has the code of MAL."),
        ([], "MAL.csv", "The file name has the code or name of MAL."),
        (["MAL"], "MAL.csv", "Folder and file name have the code or name of MAL."),
        (["BER"], "MAL.csv", "The folder has the code of BER, the file name that of MAL."),
        ([], "BER 2.csv", "The file name has the code or name of BER and BER 2."),
        ([], "x.csv", "Neither the folder nor the name of the file says whose it is."),
    ],
)
def test_the_reason_is_told(folders: list[str], name: str, reason: str) -> None:
    assert Matcher(FARMS).match(folders, name).reason == reason


def test_a_thousand_farms_and_five_hundred_files_are_matched_at_once() -> None:
    farms = [known(f"F{number:04}", f"Casal número {number}") for number in range(1000)]
    matcher = Matcher(farms)
    found = [matcher.match(["week 37"], f"F{number:04} week 37.csv").farms for number in range(500)]
    assert [each[0].code for each in found] == [f"F{number:04}" for number in range(500)]
    assert {len(each) for each in found} == {1}
