"""Every resource of the API, declared once for the suites that cover all routes.

A route without a row here fails those suites. To add one: how a record of a place is made, a body
that creates another, and a body that changes it.
"""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Model

from records import models
from records.services import saving
from tests.cast import Place, make_cultivar, make_person, make_species, weighing

Body = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Resource:
    """`body` and `make` take a place and a number that tells one record from the next.

    Without a `make`, a record is stored from the body. `query` is what a list cannot do without.
    """

    model: type[Model] | None = None
    body: Callable[[Place, int], Body] | None = None
    change: Body = field(default_factory=dict)
    make: Callable[[Place, int], Any] | None = None
    query: Callable[[Place], Body] = lambda place: {}
    # Reference data is everyone's: there is no other farm's.
    is_reference: bool = False


def make(name: str, place: Place, number: int = 1) -> Any:
    """The record of a place with this number, new in the database."""
    resource = RESOURCES[name]
    return resource.make(place, number) if resource.make else store(name, place, number)


def body_of(name: str, place: Place, number: int = 1) -> Body:
    body = RESOURCES[name].body
    assert body is not None, f"{name} are not created by clients"
    return body(place, number)


def store(name: str, place: Place, number: int) -> Any:
    body, model = body_of(name, place, number), RESOURCES[name].model
    assert model is not None
    trees = models.Tree.objects.filter(pk__in=body.pop("trees", []))
    links = {f.name: f.attname for f in model._meta.fields if f.is_relation}
    record = model(**{links.get(name, name): value for name, value in body.items()})
    record.clean_fields()
    return saving.save(record, trees=trees)


def name_of(model: type[Model]) -> str:
    return next(name for name, resource in RESOURCES.items() if resource.model is model)


def record_of(model: type[Model], place: Place, number: int = 1) -> Any:
    """A record of any model that a link can lead to."""
    return place.owner if model is models.Person else make(name_of(model), place, number)


def co_op_of(place: Place) -> models.CoOp:
    """The co-op of which the place's farm is a member."""
    return place.farm.memberships.order_by("pk")[0].co_op


# What needs more than its own body ---------------------------------------------------------------


def make_co_op(place: Place, number: int) -> models.CoOp:
    """Another co-op with the same member and staff."""
    staff = co_op_of(place).staff.values_list("person", flat=True)
    co_op = models.CoOp.objects.create(code=f"{place.farm.code}-{number}", name="Another co-op")
    models.Membership.objects.create(co_op=co_op, farm=place.farm, starts_on=dt.date(2020, 1, 1))
    for person_id in staff:
        models.CoOpRole.objects.create(co_op=co_op, person_id=person_id)
    return co_op


def make_farm(place: Place, number: int) -> models.Farm:
    """Another farm of the same owner in the same co-op."""
    farm = models.Farm.objects.create(
        code=f"{place.farm.code}-{number}", name="Another farm", time_zone=place.farm.time_zone
    )
    models.FarmRole.objects.create(farm=farm, person=place.owner, role="owner")
    models.Membership.objects.create(
        co_op=co_op_of(place), farm=farm, starts_on=dt.date(2020, 1, 1), shares="all"
    )
    return farm


def make_token(place: Place, number: int) -> models.Token:
    token = models.Token(
        farm=place.farm,
        name=f"app {number}",
        scopes=["harvest:read"],
        expires_at=dt.datetime.now(dt.UTC) + dt.timedelta(days=30),
    )
    token.issue()
    token.save(force_insert=True)
    return token


def make_import(place: Place, number: int) -> models.HarvestImport:
    return models.HarvestImport.objects.create(
        farm=place.farm, file_name=f"harvest {number}.csv", file_sha256=f"{number:064x}"
    )


def helper(place: Place, number: int) -> models.Person:
    """Somebody who works on another farm of the same people, and may get a role on this one."""
    yard, _ = models.Farm.objects.get_or_create(
        code=f"{place.farm.code} YARD", defaults={"name": "The yard", "time_zone": "UTC"}
    )
    for role in models.FarmRole.objects.filter(farm=place.farm):
        models.FarmRole.objects.get_or_create(
            farm=yard, person=role.person, defaults={"role": role.role}
        )
    person = make_person(f"helper{number}@{place.farm.code.lower()}.example")
    models.FarmRole.objects.create(farm=yard, person=person, role="worker")
    return person


def co_op_grade(place: Place, number: int) -> models.CoOpGrade:
    grade, _ = models.CoOpGrade.objects.get_or_create(
        co_op=co_op_of(place), code=f"for {number}", defaults={"is_marketable": True}
    )
    return grade


# One body a resource -----------------------------------------------------------------------------


def on_farm(place: Place, **values: Any) -> Body:
    return {"farm": str(place.farm.pk), **values}


def on_block(place: Place, **values: Any) -> Body:
    return on_farm(place, block=str(place.block.pk), **values)


def membership_body(place: Place, number: int) -> Body:
    """A year long before the membership that runs."""
    year = 1990 + number
    return on_farm(
        place,
        co_op=str(co_op_of(place).pk),
        starts_on=f"{year}-01-01",
        ends_on=f"{year}-12-31",
    )


def grade_mapping_body(place: Place, number: int) -> Body:
    return on_farm(
        place,
        grade=str(place.grade.pk),
        co_op_grade=str(co_op_grade(place, number).pk),
        applies_from="2026-01-01",
    )


def full_weighing(place: Place, number: int) -> Body:
    """A weighing with everything that a list has to fetch."""
    return weighing(
        place,
        weight="30.5",
        trees=[str(place.tree.pk)],
        containers=2,
        container=str(place.container.pk),
        grade=str(place.grade.pk),
        entered_cultivar=str(make_cultivar().pk),
        crop=str(place.crop.pk),
        docket=f"D{number}",
    )


RESOURCES: dict[str, Resource] = {
    "co-ops": Resource(
        model=models.CoOp,
        make=make_co_op,
        body=lambda place, n: {"code": f"NEW{n}", "name": "A new co-op"},
        change={"name": "Renamed"},
    ),
    "co-op-grades": Resource(
        model=models.CoOpGrade,
        body=lambda place, n: {
            "co_op": str(co_op_of(place).pk),
            "code": f"K{n}",
            "is_marketable": True,
        },
        change={"name": "Renamed"},
    ),
    "memberships": Resource(
        model=models.Membership, body=membership_body, change={"is_associate": True}
    ),
    "farms": Resource(
        model=models.Farm,
        make=make_farm,
        body=lambda place, n: {
            "code": f"NEW{n}",
            "name": "A new farm",
            "time_zone": "Atlantic/Madeira",
        },
        change={"name": "Renamed"},
    ),
    "farm-roles": Resource(
        model=models.FarmRole,
        body=lambda place, n: on_farm(place, person=str(helper(place, n).pk), role="worker"),
        change={"role": "adviser"},
    ),
    "season-starts": Resource(
        model=models.SeasonStart,
        body=lambda place, n: on_block(place, applies_from=f"{2000 + n}-01-01", month=7),
        change={"month": 5},
    ),
    "species": Resource(
        model=models.Species,
        is_reference=True,
        body=lambda place, n: {
            "code": f"annona-{n}",
            "common_name": "unnamed annona",
            "scientific_name": "Annona sp.",
            "bearing_age_years": 3,
            "bearing_age_source": "made up for a test",
        },
        change={"common_name": "renamed annona"},
    ),
    "cultivars": Resource(
        model=models.Cultivar,
        body=lambda place, n: on_farm(
            place, species=str(make_species().pk), name=f"Seedling of the yard {n}"
        ),
        change={"name": "Renamed"},
    ),
    "blocks": Resource(
        model=models.Block,
        body=lambda place, n: on_farm(place, code=f"B{n}", area_m2=1_000),
        change={"name": "Renamed"},
    ),
    "planting-lines": Resource(
        model=models.PlantingLine,
        body=lambda place, n: on_block(place, cultivar=str(make_cultivar().pk), tree_count=n),
        change={"rootstock": "seedling"},
    ),
    "trees": Resource(
        model=models.Tree,
        body=lambda place, n: on_block(place, row=2, position=n, number=f"2/{n}"),
        change={"rootstock": "seedling"},
    ),
    "grafts": Resource(
        model=models.Graft,
        body=lambda place, n: on_farm(
            place,
            tree=str(place.tree.pk),
            cultivar=str(make_cultivar().pk),
            grafted_on=f"{2000 + n}-02-01",
        ),
        change={"share_percent": 50},
    ),
    "containers": Resource(
        model=models.Container,
        body=lambda place, n: on_farm(place, code=f"box {n}", tare_g=800),
        change={"name": "Renamed"},
    ),
    "grades": Resource(
        model=models.Grade,
        body=lambda place, n: on_farm(place, code=f"G{n}", is_marketable=True),
        change={"name": "Renamed"},
    ),
    "grade-mappings": Resource(
        model=models.GradeMapping, body=grade_mapping_body, change={"applies_from": "2026-02-01"}
    ),
    "crops": Resource(
        model=models.Crop,
        body=lambda place, n: on_block(
            place, name=f"late {n}", opened_by="pruning", opened_on="2026-06-01"
        ),
        change={"bloom_began_on": "2026-07-01"},
    ),
    "harvest-weights": Resource(
        model=models.HarvestWeight, body=full_weighing, change={"note": "weighed again"}
    ),
    "harvest-imports": Resource(model=models.HarvestImport, make=make_import),
    "tokens": Resource(
        model=models.Token,
        make=make_token,
        body=lambda place, n: on_farm(place, name=f"new app {n}", scopes=["harvest:read"]),
        change={"name": "Renamed"},
    ),
    "history": Resource(query=lambda place: on_farm(place)),
    "me": Resource(),
}
