"""`manage.py import_harvest`: the same import, told on the terminal."""

from io import StringIO
from pathlib import Path
from zipfile import ZipFile

import pytest
from django.core.management import CommandError, call_command

from records.importing import landing
from records.models import HarvestImport
from tests.cast import Place, make_cast
from tests.records.sending import counts, csv_of, weights

pytestmark = pytest.mark.django_db

GOOD = [["Date", "Block", "Kilos"], ["2026-09-10", "N1", "20"], ["2026-09-11", "N1", "21"]]
WRONG = [*GOOD, ["2026-09-12", "N9", "22"]]


@pytest.fixture
def ours() -> Place:
    return make_cast().ours


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "harvest.csv"


def run(path: Path, *options: str) -> str:
    told = StringIO()
    call_command("import_harvest", str(path), *options, "--farm", "OURS", stdout=told)
    return told.getvalue()


def run_in_vain(path: Path, *options: str) -> str:
    told = StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("import_harvest", str(path), *options, "--farm", "OURS", stdout=told)
    assert ended.value.code == 1
    return told.getvalue()


def test_it_lands_a_file_and_tells_the_counts(ours: Place, path: Path) -> None:
    path.write_bytes(csv_of(GOOD))
    assert run(path) == "landed: Of 2 rows: 2 added, 0 changed, 0 unchanged, 0 refused.\n"
    assert len(weights(ours.farm)) == 2
    assert "0 added, 0 changed, 2 unchanged" in run(path)


def test_refused_rows_are_listed_and_fail_the_command(ours: Place, path: Path) -> None:
    path.write_bytes(csv_of(WRONG))
    told = run_in_vain(path)
    assert told.startswith("refused: 1 of 3 rows are refused")
    assert "  refused row 4, Block 'N9': The farm has no block of this code" in told
    assert weights(ours.farm) == []


def test_refused_rows_may_be_skipped(ours: Place, path: Path) -> None:
    path.write_bytes(csv_of(WRONG))
    assert run(path, "--on-problem", "skip").startswith("landed: Of 3 rows: 2 added")


def test_a_dry_run_fails_where_the_import_would(ours: Place, path: Path) -> None:
    path.write_bytes(csv_of(GOOD))
    assert run(path, "--dry-run").startswith("checked: A dry run.")
    path.write_bytes(csv_of(WRONG))
    assert run_in_vain(path, "--dry-run").startswith("checked: A dry run.")
    assert weights(ours.farm) == []


def test_an_open_question_fails_the_command_until_it_is_answered(ours: Place, path: Path) -> None:
    path.write_text("Data;Talhão;Peso\n03/04/2026;N1;1.234\n", encoding="cp1252")
    told = run_in_vain(path)
    assert "  date_order: 03/04/2026 in row 2 could have" in told
    assert "  decimal_mark: 1.234 in row 2 could be" in told
    assert "  unit: 1.234" in told
    answers = ("--date-order", "day-month-year", "--decimal-mark", ",", "--unit", "kg")
    run(path, *answers, "--encoding", "cp1252", "--delimiter", ";", "--series", "peso")
    [weight] = weights(ours.farm)
    assert (weight.picked_on.isoformat(), weight.net_g) == ("2026-04-03", 1_234_000)


@pytest.mark.parametrize(
    ("options", "error"),
    [
        (["--farm", "NONE"], "no farm with the code NONE"),
        (["--farm", "OURS", "--delimiter", "x"], "a comma, a semicolon"),
        (["--farm", "OURS", "--unit", "stone"], "invalid choice"),
        ([], "--farm"),
    ],
)
def test_a_wrong_option_is_told(ours: Place, path: Path, options: list[str], error: str) -> None:
    path.write_bytes(csv_of(GOOD))
    with pytest.raises(CommandError, match=error):
        call_command("import_harvest", str(path), *options)


def test_a_file_that_is_not_there_is_told(ours: Place, path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be read"):
        run(path)


def test_a_tab_can_be_named(ours: Place, path: Path) -> None:
    path.write_bytes(csv_of(GOOD, delimiter="\t"))
    assert run(path, "--delimiter", "tab").startswith("landed")


def test_a_crash_leaves_an_import_that_says_so(
    ours: Place, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path.write_bytes(csv_of(GOOD))
    monkeypatch.setattr(landing, "land", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        run(path)
    sent = HarvestImport.objects.get()
    assert (sent.state, counts(sent)) == ("failed", (None, None, None, None))


def test_several_files_and_zips_are_told_one_by_one(ours: Place, path: Path) -> None:
    path.write_bytes(csv_of(GOOD))
    packed = path.with_name("week.zip")
    with ZipFile(packed, "w") as archive:
        archive.writestr("late/b.csv", csv_of([GOOD[0], ["2026-09-12", "N1", "7"]]))
        archive.writestr("__MACOSX/._b.csv", b"x")
    ignored, *told = run(path, str(packed)).splitlines()
    assert ignored.startswith("ignored: week.zip/__MACOSX/._b.csv: ")
    assert told[::2] == ["harvest.csv", "week.zip/late/b.csv"]
    assert [line[:9] for line in told[1::2]] == ["landed: O", "landed: O"]
    assert len(weights(ours.farm)) == 3


def test_one_refused_file_of_several_fails_the_command(ours: Place, path: Path) -> None:
    path.write_bytes(csv_of(WRONG))
    good = path.with_name("good.csv")
    good.write_bytes(csv_of(GOOD))
    told = run_in_vain(path, str(good))
    assert "refused: 1 of 3 rows" in told
    assert "good.csv\nlanded: Of 2 rows" in told


def test_an_archive_that_cannot_be_taken_apart_is_told(ours: Place, path: Path) -> None:
    packed = path.with_name("week.rar")
    packed.write_bytes(b"Rar!")
    with pytest.raises(CommandError, match="cannot be unpacked here"):
        run(packed)
    assert not HarvestImport.objects.exists()
