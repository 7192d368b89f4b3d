"""The sheets of farms, memberships, cultivars, blocks and planting lines."""

from decimal import Decimal
from typing import Any

from records.importing.farm_workbooks.reading import Entry
from records.importing.farm_workbooks.run import NOT_ALLOWED, Run
from records.models import Block, Cultivar, Farm, Membership, PlantingLine

M2_A_HA = 10_000
MARKS = {"point": ".", "comma": ","}
DEGREE_PLACES = Decimal("0.000001")
FLAGS = {"yes": True, "no": False}


def flag(entry: Entry, column: str) -> bool | None:
    return FLAGS.get(entry.text(column))


# Farms -----------------------------------------------------------------------------------------

FARM_COLUMNS = {
    "name": "name",
    "time_zone": "time zone",
    "latitude": "latitude",
    "longitude": "longitude",
    "season_start_month": "season start month",
    "decimal_mark": "decimal mark",
    "date_order": "date order",
    "weight_unit": "weight unit",
}


def load_farm(run: Run, entry: Entry) -> None:
    if not run.has_all(entry, "code") or not run.is_first(entry, "code", entry.text("code")):
        return
    farm = run.farms.get(entry.text("code")) or _new_farm(run, entry)
    if farm is None:
        return
    is_new = farm._state.adding
    columns = {**FARM_COLUMNS, "code": "code", "__all__": "latitude"}
    if run.put(entry, farm, _farm_values(entry), columns) and is_new:
        run.new_farms.add(farm.pk)
        run.farms.add(farm.code, farm)


def _new_farm(run: Run, entry: Entry) -> Farm | None:
    code = entry.text("code")
    if not _may_add_farm(run, entry):
        return None
    if Farm.objects.filter(code=code).exists():
        text = f'"{code}" is the code of a farm that you may not load. Choose another.'
        run.refuse(entry, "code", "already-taken", text)
        return None
    return Farm(code=code) if run.has_all(entry, "name", "time zone") else None


def _may_add_farm(run: Run, entry: Entry) -> bool:
    if run.caller.is_platform_admin:
        return True
    if not any(run.works_for(co_op) for co_op in _joined(run, entry.text("code"))):
        text = (
            "A new farm needs a line on the sheet memberships that joins it to your co-op."
            if run.caller.co_ops
            else run.farms.unknown(entry.text("code"))
        )
        code = "needs-membership" if run.caller.co_ops else "unknown-farm"
        run.refuse(entry, "code", code, text)
        return False
    return True


def _joined(run: Run, code: str) -> list[Any]:
    """The co-ops that the workbook joins a farm to."""
    is_only = len(run.book.entries["farms"]) == 1
    words = [
        one.text("co-op")
        for one in run.book.entries["memberships"]
        if one.text("farm") == code or (is_only and not one.text("farm"))
    ]
    return [co_op for word in words if (co_op := run.co_ops.get(word))]


def _farm_values(entry: Entry) -> dict[str, Any]:
    values: dict[str, Any] = {
        name: entry.values.get(column) for name, column in FARM_COLUMNS.items()
    }
    for name in ("latitude", "longitude"):
        if values[name] is not None:
            values[name] = values[name].quantize(DEGREE_PLACES)
    values["decimal_mark"] = MARKS.get(entry.text("decimal mark"))
    if values["season_start_month"] is not None:
        values["season_start_month"] = int(values["season_start_month"])
    return values


# Memberships -----------------------------------------------------------------------------------

MEMBERSHIP_COLUMNS = {
    "farm": "farm",
    "co_op": "co-op",
    "starts_on": "starts on",
    "ends_on": "ends on",
    "shares": "shares",
    "__all__": "starts on",
}


def load_membership(run: Run, entry: Entry) -> None:
    farm = run.farm_of(entry)
    if farm is None or not run.has_all(entry, "co-op", "starts on"):
        return
    co_op = run.co_op_of(entry)
    starts_on: Any = entry.values["starts on"]
    if co_op is None or not run.is_first(entry, "starts on", farm.pk, co_op.pk, starts_on):
        return
    values = {
        "ends_on": entry.values.get("ends on"),
        "shares": entry.values.get("shares"),
        "staff_may_edit": flag(entry, "staff may edit"),
        "is_associate": flag(entry, "associate"),
    }
    stored = Membership.objects.filter(farm=farm, co_op=co_op, starts_on=starts_on).first()
    if not _may_put(run, entry, stored, values, farm, is_own=run.works_for(co_op)):
        return
    membership = stored or Membership(farm=farm, co_op=co_op, starts_on=starts_on)
    run.put(entry, membership, values, MEMBERSHIP_COLUMNS)


def _may_put(
    run: Run,
    entry: Entry,
    stored: Membership | None,
    values: dict[str, Any],
    farm: Farm,
    *,
    is_own: bool,
) -> bool:
    """Platform admins make and change memberships; staff join a farm that they add themselves."""
    differs = stored is None or any(
        value not in (None, getattr(stored, name)) for name, value in values.items()
    )
    is_joining = stored is None and is_own and farm.pk in run.new_farms
    if run.caller.is_platform_admin or is_joining or not differs:
        return True
    text = "Memberships are made and changed by platform admins; staff join farms new to the co-op."
    run.refuse(entry, "co-op", NOT_ALLOWED, text)
    return False


# Cultivars -------------------------------------------------------------------------------------

CULTIVAR_COLUMNS = {"bearing_age_years": "bearing age", "farm": "farm", "name": "name"}


def load_cultivar(run: Run, entry: Entry) -> None:
    farm = run.farm_of(entry) if entry.text("farm") else None
    if (farm is None and entry.text("farm")) or not run.has_all(entry, "name", "species"):
        return
    key = (farm.pk if farm else None, entry.text("name").casefold())
    species = run.species_of(entry)
    if species is None or not run.is_first(entry, "name", *key):
        return
    words = run.cultivars_of(farm) if farm else run.shared_cultivars
    stored = words.get(entry.text("name"))
    values = {"bearing_age_years": entry.values.get("bearing age")}
    if stored is not None and stored.species_id != species.pk:
        text = f"{stored.name} is stored as {stored.species}."
        run.refuse(entry, "species", "fixed", text)
    elif farm is None and not _may_share(run, stored, values):
        text = "Cultivars shared by all are added by platform admins. Name the farm it is for."
        run.refuse(entry, "farm", NOT_ALLOWED, text)
    else:
        cultivar = stored or Cultivar(farm=farm, name=entry.text("name"), species=species)
        if run.put(entry, cultivar, values, CULTIVAR_COLUMNS):
            words.add(cultivar.name, cultivar)


def _may_share(run: Run, stored: Cultivar | None, values: dict[str, Any]) -> bool:
    age = values["bearing_age_years"]
    is_unchanged = stored is not None and age in (None, stored.bearing_age_years)
    return run.caller.is_platform_admin or is_unchanged


# Blocks ----------------------------------------------------------------------------------------


def load_block(run: Run, entry: Entry) -> None:
    farm = run.farm_of(entry)
    code = entry.text("code")
    if farm is None or not run.has_all(entry, "code"):
        return
    if not run.is_first(entry, "code", farm.pk, code):
        return
    if {"area ha", "area m2"} <= entry.values.keys():
        run.refuse(entry, "area ha", "two-areas", "Give the area in m2 or in ha, not in both.")
        return
    block = farm.blocks.filter(code=code).first() or Block(farm=farm, code=code)
    area = "area ha" if "area ha" in entry.values else "area m2"
    values = {"name": entry.values.get("name"), "area_m2": _area_m2(entry)}
    columns = {"code": "code", "name": "name", "area_m2": area}
    if run.put(entry, block, values, columns) and farm.pk in run.blocks:
        run.blocks[farm.pk].add(code, block)


def _area_m2(entry: Entry) -> Any:
    hectares = entry.values.get("area ha")
    if isinstance(hectares, Decimal):
        return round(hectares * M2_A_HA)
    return entry.values.get("area m2")


# Planting lines --------------------------------------------------------------------------------

LINE_COLUMNS = {
    "tree_count": "trees",
    "area_m2": "area m2",
    "planted_year": "planted year",
    "rootstock": "rootstock",
}


def load_planting_line(run: Run, entry: Entry) -> None:
    farm = run.farm_of(entry)
    if farm is None or not run.has_all(entry, "block", "cultivar", "trees"):
        return
    block, cultivar = run.block_of(entry, farm), run.cultivar_of(entry, farm)
    if block is None or cultivar is None:
        return
    key: dict[str, Any] = {
        "block": block,
        "cultivar": cultivar,
        "rootstock": entry.text("rootstock"),
        "planted_year": entry.values.get("planted year"),
    }
    if not run.is_first(entry, "block", *(getattr(each, "pk", each) for each in key.values())):
        return
    line = PlantingLine.objects.filter(**key, ended_on=None).first()
    values = {
        "tree_count": entry.values["trees"],
        "area_m2": entry.values.get("area m2"),
        "non_bearing": flag(entry, "non-bearing"),
    }
    run.put(entry, line or PlantingLine(farm=farm, **key), values, LINE_COLUMNS)
