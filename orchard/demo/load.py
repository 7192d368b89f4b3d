"""Puts the invented co-op into the service, by the services that everyone's records go through."""

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pghistory
from django.db import transaction

from orchard.demo import cast as demo
from orchard.demo.crops import crops
from orchard.demo.load_fieldwork import load_fieldwork
from orchard.demo.load_plans import load_plans
from orchard.demo.load_weather import load_weather
from orchard.demo.shed import REJECTED, intakes
from orchard.demo.sheets import Sheet, write_sheets
from records import models
from records.choices import WeightKind
from records.services.imports import start_import
from records.services.saving import save


def is_loaded(cast: demo.Cast) -> bool:
    return models.CoOp.objects.filter(code=cast.co_op.code).exists()


def load_records(cast: demo.Cast, password: str) -> None:
    """Everything but the harvest, all of it or nothing."""
    with pghistory.context(by="demo"), transaction.atomic():
        _records(cast, password)


def send_files(cast: demo.Cast, folder: Path) -> list[models.HarvestImport]:
    """The members' files, each sent once however often the demo is started."""
    return [_sent(sheet) for sheet in write_sheets(cast, folder)]


def _sent(sheet: Sheet) -> models.HarvestImport:
    farm = models.Farm.objects.get(code=sheet.farm_code)
    sent: models.HarvestImport | None = models.HarvestImport.objects.filter(
        farm=farm, series=sheet.series
    ).first()
    return sent or start_import(
        farm=farm,
        file_name=sheet.path.name,
        content=sheet.path.read_bytes(),
        series=sheet.series,
        by="demo",
    )


def _records(cast: demo.Cast, password: str) -> None:
    species = {each.code: each for each in models.Species.objects.all()}
    co_op = save(models.CoOp(code=cast.co_op.code, name=cast.co_op.name, basis=cast.co_op.basis))
    grades = {
        grade.code: save(
            models.CoOpGrade(
                co_op=co_op,
                code=grade.code,
                name=grade.name,
                is_marketable=grade.is_marketable,
            )
        )
        for grade in cast.co_op.grades
    }
    farms = {farm.code: _farm(farm) for farm in cast.farms}
    cultivars = {
        cultivar.name: save(
            models.Cultivar(
                name=cultivar.name,
                species=species[cultivar.species],
                farm=farms[cultivar.farm] if cultivar.farm else None,
            )
        )
        for cultivar in cast.cultivars
    }
    for farm in cast.farms:
        _membership(co_op, farms[farm.code], farm.membership)
        _harvest_terms(farms[farm.code], farm, grades)
        for block in farm.blocks:
            _block(farms[farm.code], block, cultivars)
    _crops(cast, farms)
    _intakes(cast, co_op, farms, cultivars, grades)
    load_weather(cast, co_op, farms)
    load_fieldwork(cast)
    load_plans(cast, farms)
    _people(cast, co_op, farms, password)


def _farm(farm: demo.Farm) -> models.Farm:
    saved: models.Farm = save(
        models.Farm(
            code=farm.code,
            name=farm.name,
            time_zone=farm.time_zone,
            latitude=farm.latitude,
            longitude=farm.longitude,
            season_start_month=farm.season_start_month,
            backdate_days=farm.backdate_days,
            adviser_writes=farm.adviser_writes,
            decimal_mark=farm.sheet.decimal_mark,
            date_order=farm.sheet.date_order,
            weight_unit=farm.sheet.weight_unit,
        )
    )
    return saved


def _membership(co_op: models.CoOp, farm: models.Farm, terms: demo.Membership) -> None:
    save(
        models.Membership(
            co_op=co_op,
            farm=farm,
            starts_on=terms.starts_on,
            ends_on=terms.ends_on,
            shares=terms.shares,
            staff_may_edit=terms.staff_may_edit,
            is_associate=terms.is_associate,
        )
    )


def _harvest_terms(
    farm: models.Farm, terms: demo.Farm, co_op_grades: dict[str, models.CoOpGrade]
) -> None:
    for container in terms.containers:
        save(
            models.Container(
                farm=farm,
                code=container.code,
                name=container.name,
                tare_g=container.tare_g,
                usual_net_g=container.usual_net_g,
            )
        )
    for grade in terms.grades:
        saved = save(
            models.Grade(
                farm=farm,
                code=grade.code,
                is_marketable=grade.is_marketable,
                cull_reason=grade.cull_reason,
            )
        )
        if grade.co_op_grade:
            save(
                models.GradeMapping(
                    farm=farm,
                    grade=saved,
                    co_op_grade=co_op_grades[grade.co_op_grade],
                    applies_from=terms.membership.starts_on,
                )
            )


def _block(farm: models.Farm, block: demo.Block, cultivars: dict[str, models.Cultivar]) -> None:
    saved = save(
        models.Block(
            farm=farm,
            code=block.code,
            name=block.name,
            area_m2=block.area_m2,
            boundary=block.boundary,
        )
    )
    for line in block.planting_lines:
        save(
            models.PlantingLine(
                farm=farm,
                block=saved,
                cultivar=cultivars[line.cultivar],
                rootstock=line.rootstock,
                planted_year=line.planted_year,
                tree_count=line.tree_count,
            )
        )
    for tree, planted in zip(block.trees, _trees(farm, saved, block, cultivars), strict=True):
        if tree.graft:
            save(
                models.Graft(
                    farm=farm,
                    tree=planted,
                    cultivar=cultivars[tree.graft.cultivar],
                    share_percent=tree.graft.share_percent,
                    grafted_on=tree.graft.grafted_on,
                )
            )


def _trees(
    farm: models.Farm,
    block: models.Block,
    terms: demo.Block,
    cultivars: dict[str, models.Cultivar],
) -> Iterator[models.Tree]:
    for tree in terms.trees:
        yield save(
            models.Tree(
                farm=farm,
                block=block,
                row=tree.row,
                position=tree.position,
                cultivar=cultivars[tree.cultivar],
                rootstock=tree.rootstock,
                planted_on=tree.planted_on,
                removed_on=tree.removed_on,
                removal_reason=tree.removal_reason,
            )
        )


def _crops(cast: demo.Cast, farms: dict[str, models.Farm]) -> None:
    blocks = {(block.farm_id, block.code): block for block in models.Block.objects.all()}
    for crop in crops(cast):
        farm = farms[crop.farm]
        save(
            models.Crop(
                farm=farm,
                block=blocks[farm.pk, crop.block],
                opened_by=crop.opened_by,
                opened_on=crop.opened_on,
                bloom_began_on=crop.bloom_began_on,
            )
        )


def _intakes(
    cast: demo.Cast,
    co_op: models.CoOp,
    farms: dict[str, models.Farm],
    cultivars: dict[str, models.Cultivar],
    grades: dict[str, models.CoOpGrade],
) -> None:
    for intake in intakes(cast):
        lines: list[dict[str, Any]] = [
            {"co_op_grade": grades[grade], **_kilos(net_g)}
            for grade, net_g in intake.sorted_g.items()
        ]
        if intake.rejected_g:
            lines.append({"reject_reason": REJECTED, **_kilos(intake.rejected_g)})
        save(
            models.Intake(
                farm=farms[intake.farm],
                co_op=co_op,
                cultivar=cultivars[intake.cultivar],
                received_on=intake.received_on,
                docket=intake.docket,
                weight_kind=WeightKind.NET,
                **_kilos(intake.net_g),
            ),
            sorted_weights=lines,
        )


def _kilos(net_g: int) -> dict[str, Any]:
    return {"weight": Decimal(net_g) / 1000, "unit": "kg"}


def _people(
    cast: demo.Cast, co_op: models.CoOp, farms: dict[str, models.Farm], password: str
) -> None:
    for person in cast.people:
        roles = {role.role for role in person.roles}
        saved = models.Person.objects.create_user(
            person.email,
            password,
            name=person.name,
            is_staff=bool(roles & {"platform-admin", "co-op-staff"}),
            is_superuser="platform-admin" in roles,
        )
        for role in person.roles:
            if role.role == "co-op-staff":
                save(models.CoOpRole(person=saved, co_op=co_op))
            elif role.farm:
                save(models.FarmRole(person=saved, farm=farms[role.farm], role=role.role))
