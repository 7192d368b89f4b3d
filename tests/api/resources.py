"""Every resource of the API, declared once for the suites that cover all routes.

A route without a row here fails those suites. To add one: how a record of a place is made, a body
that creates another, and a body that changes it.
"""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db.models import Model
from rest_framework.test import APIClient

from orchard import clock
from planning.models import (
    Alert,
    ClosedSeason,
    CropPlan,
    Finding,
    FlowerHours,
    NextTask,
    Pool,
    PoolDeduction,
    ScheduleSetting,
    SeasonSummary,
    SpeciesFigure,
    StageForecast,
    Statement,
    StatementLine,
    SummaryLevel,
    TaskRule,
    UndatedTask,
)
from planning.services import settlement
from planning.services.closed_seasons import close_season
from planning.services.schedules import rebuild_schedule
from planning.services.species_figures import save_figure
from records import models
from records.importing import batches
from records.importing.archives import SentFile
from records.services import imports, invitations, saving
from records.services.callers import caller_for_person
from tests.cast import Place, make_cultivar, make_person, make_species, weighing
from tests.importing.making import as_xlsx

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
    # How a creating body is sent: JSON, or a form with a file.
    form: str = "json"
    # Reference data is everyone's: there is no other farm's.
    is_reference: bool = False
    # What is sent makes other resources' records and none of its own, so it takes no id.
    is_order: bool = False
    # What is asked for is computed from other resources' records.
    is_computed: bool = False
    # Of a co-op: its staff write it, and a member's own people do not.
    is_of_co_op: bool = False


def make(name: str, place: Place, number: int = 1) -> Any:
    """The record of a place with this number, new in the database."""
    resource = RESOURCES[name]
    return resource.make(place, number) if resource.make else store(name, place, number)


def body_of(name: str, place: Place, number: int = 1) -> Body:
    body = RESOURCES[name].body
    assert body is not None, f"{name} are not created by clients"
    return body(place, number)


def create(client: APIClient, name: str, body: Body) -> Any:
    return client.post(f"/api/v1/{name}", body, format=RESOURCES[name].form)


def store(name: str, place: Place, number: int) -> Any:
    body, model = body_of(name, place, number), RESOURCES[name].model
    assert model is not None
    rows = {f.name: _rows(f, body.pop(f.name)) for f in _below(model) if f.name in body}
    record = model(**by_column(model, body))
    # What saving itself fills in is still empty.
    record.clean_fields(exclude={f.name for f in model._meta.fields if not f.editable})
    return saving.save(record, **rows)


def _below(model: type[Model]) -> list[Any]:
    return [f for f in model._meta.get_fields() if f.many_to_many or f.one_to_many]


def _rows(link: Any, sent: list[Any]) -> list[Any]:
    """Records by id, or a record's lines."""
    if link.many_to_many:
        return list(link.related_model.objects.filter(pk__in=sent))
    lines = [link.related_model(**by_column(link.related_model, line)) for line in sent]
    for line in lines:
        line.clean_fields(exclude={"farm", "net_g", link.field.name})
    names = [set(by_name) for by_name in sent]
    return [
        {name: getattr(line, name) for name in given}
        for line, given in zip(lines, names, strict=True)
    ]


def by_column(model: type[Model], body: Body) -> Body:
    links = {f.name: f.attname for f in model._meta.fields if f.is_relation}
    return {links.get(name, name): value for name, value in body.items()}


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


def closed_season_body(place: Place, number: int) -> Body:
    """A past season of one weighing, of a co-op that has closed none yet."""
    code = f"{place.farm.code}-{number + 1_000}"
    co_op = models.CoOp.objects.filter(code=code).first() or make_co_op(place, number + 1_000)
    models.HarvestWeight.objects.create(
        farm=place.farm, block=place.block, picked_on="2021-09-10", fruit_count=3
    )
    return {"co_op": str(co_op.pk), "season_year": 2021, "despite": True}


def make_closed_season(place: Place, number: int) -> ClosedSeason:
    body = closed_season_body(place, number)
    season = ClosedSeason(co_op_id=body["co_op"], season_year=body["season_year"])
    return close_season(season, despite=True, today_in=clock.today)


def make_farm(place: Place, number: int) -> models.Farm:
    """Another farm of the same owner in the same co-op."""
    farm = models.Farm.objects.create(
        code=f"{place.farm.code}-{number}", name="Another farm", time_zone=place.farm.time_zone
    )
    models.FarmRole.objects.create(farm=farm, person=place.owner, role="owner")
    models.Membership.objects.create(
        co_op=co_op_of(place), farm=farm, starts_on=dt.date(2020, 1, 1)
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


def make_invitation(place: Place, number: int) -> models.Invitation:
    invitation = models.Invitation(
        farm=place.farm,
        role="worker",
        email=f"newcomer{number}@{place.farm.code.lower()}.example",
        expires_at=invitations.default_expiry(),
    )
    invitations.invite(invitation)
    return invitation


def make_import(place: Place, number: int) -> models.HarvestImport:
    """Received, and not yet in the queue."""
    return imports.receive(
        farm=place.farm, file_name=f"harvest {number}.csv", content=f"block\n{number}\n".encode()
    )


def make_batch(place: Place, number: int) -> models.FileBatch:
    """Sent by the owner of the place, with one file that waits to be told its farm."""
    other = make_farm(place, 100 + number)
    names = f"{place.farm.code} and {other.code}.csv"
    file = SentFile(name=names, content=f"block\n{number}\n".encode())
    sender = caller_for_person(place.owner, dt.date(2026, 9, 14))
    return batches.send(files=[file], caller=sender)


def make_batch_file(place: Place, number: int) -> models.BatchFile:
    return make_batch(place, number).files.get()


def make_summary(place: Place, number: int) -> SeasonSummary:
    """A block's season without figures, and the same of the member of a co-op."""
    member = {"co_op": co_op_of(place), "member": place.farm, "level": SummaryLevel.MEMBER}
    _make_summary(2000 + number, cultivar=place.tree.cultivar, **member)
    return _make_summary(
        2000 + number, farm=place.farm, block=place.block, level=SummaryLevel.BLOCK
    )


def _make_summary(year: int, **about: Any) -> SeasonSummary:
    return SeasonSummary.objects.create(
        season_year=year,
        season_label=str(year),
        starts_on=dt.date(year, 1, 1),
        ends_on=dt.date(year, 12, 31),
        is_closed=True,
        net_g=0,
        estimated_g=0,
        grades=[],
        weeks=[],
        reasons={},
        inputs={},
        method="made for a test",
        **about,
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


def make_finding(place: Place, number: int) -> Finding:
    """A weighing of its own that is in the wrong unit."""
    weight = make("harvest-weights", place, 500 + number)
    change = {"kind": "harvest-weights", "id": str(weight.pk), "version": weight.version}
    return Finding.objects.create(
        farm=place.farm,
        key=f"unit-slip:{number}",
        block=place.block,
        kind="unit-slip",
        season_year=2026,
        season_label="2026",
        about_on=weight.picked_on,
        rows=[{"kind": "harvest-weights", "id": str(weight.pk)}],
        sentence="A weighing looks like pounds entered as kilos.",
        sure="medium",
        evidence={"threshold": "made for a test"},
        fix={
            "sentence": "Read as pounds.",
            "changes": [{**change, "set": {"unit": "lb"}, "from": {"unit": "kg"}, "retire": False}],
        },
    )


def make_alert(place: Place, number: int) -> Alert:
    """A task that was missed on a block of its own, and its alert."""
    return Alert.objects.get(task=make_task(place, number, code="ALERT"))


def make_task(place: Place, number: int, code: str = "TASK") -> NextTask:
    block = _scheduled_block(place, f"{code} {number}")
    TaskRule.objects.create(
        farm=place.farm,
        block=block,
        code="pruning",
        kind="pruning",
        title="Pruning",
        noun="pruning",
        trigger="dates",
        opens_on_day="02-22",
        best_on_day="03-07",
        closes_on_day="03-21",
        because="Prune just before leaf-out.",
    )
    rebuild_schedule(place.farm.pk, dt.date(2026, 12, 1), block.pk)
    return NextTask.objects.get(block=block, season_year=2026)


def make_setting(place: Place, number: int) -> ScheduleSetting:
    """A farm has one: the place's farm, and further farms of the same owner."""
    farm = place.farm if number == 1 else make_farm(place, number)
    return ScheduleSetting.objects.get_or_create(farm=farm)[0]


def make_undated(place: Place, number: int) -> UndatedTask:
    """A block without plants, so that nothing is known of its work."""
    block = _scheduled_block(place, f"UNDATED {number}")
    rebuild_schedule(place.farm.pk, dt.date(2026, 12, 1), block.pk)
    return UndatedTask.objects.get(block=block)


def make_forecast(place: Place, number: int) -> StageForecast:
    """Nothing is known of the block, so that its stages have no date and say why."""
    block = _scheduled_block(place, f"AHEAD {number}")
    return StageForecast.objects.create(
        farm=place.farm,
        block=block,
        season_year=2026,
        season_label="2026",
        crop_name="main",
        stage="leaf-out",
        bbch=10,
        method="not-known",
        reason="Leaf-out has no date.",
    )


def _scheduled_block(place: Place, code: str) -> models.Block:
    return models.Block.objects.create(
        farm=place.farm,
        code=code,
        created_at=dt.datetime(2025, 1, 1, tzinfo=dt.UTC),
    )


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


def round_body(place: Place, number: int) -> Body:
    return on_block(
        place,
        trees=[str(place.tree.pk)],
        cultivar=str(place.tree.cultivar_id),
        method="brush",
        pollen_batch=str(make("pollen-batches", place, number).pk),
        pollinated_on="2026-09-10",
        started_at="08:15:00",
        flowers=40 + number,
    )


def intake_body(place: Place, number: int) -> Body:
    return on_block(
        place,
        delivery=str(make("deliveries", place, number).pk),
        received_on="2026-09-11",
        docket=f"D{number}",
        cultivar=str(make_cultivar().pk),
        weight=55,
        unit="kg",
        containers=2,
        container=str(place.container.pk),
        sorted_weights=[
            {"grade": str(place.grade.pk), "weight": 40, "unit": "kg"},
            {"reject_reason": "split", "weight": 2, "unit": "kg"},
        ],
    )


def task_rule_body(place: Place, number: int) -> Body:
    return on_block(
        place,
        code=f"stripping-{number}",
        kind="leaf-stripping",
        title="Leaf stripping",
        noun="stripping",
        trigger="after-work",
        after_kind="pruning",
        after_which="last",
        opens_days=20,
        best_days=25,
        closes_days=30,
    )


def species_figure_body(place: Place, number: int) -> Body:
    return on_farm(
        place,
        species=str(make_species().pk),
        cultivar=str(make_cultivar(f"Figured {number}", place.farm).pk),
        name="flowers-per-hour",
        value=120 + number,
        source="Own count of a morning",
    )


def flower_hours_body(place: Place, number: int) -> Body:
    """A farm has one row a species: each number has its own."""
    kind, _ = models.Species.objects.get_or_create(
        code=f"annona-hours-{number}",
        defaults={
            "common_name": f"unnamed annona {number}",
            "scientific_name": "Annona sp.",
            "bearing_age_years": 3,
            "bearing_age_source": "made up for a test",
        },
    )
    return on_farm(
        place,
        species=str(kind.pk),
        brush_from="sunrise",
        brush_from_minutes=30,
        brush_to="solar-noon",
        brush_to_minutes=-60,
    )


def crop_plan_body(place: Place, number: int) -> Body:
    """For a day far ahead, so that it is still to come whenever the tests run."""
    day = dt.date(2050, 6, 1) + dt.timedelta(days=number)
    return on_block(place, name="second", work="pruning", planned_on=day.isoformat())


def pool_body(place: Place, number: int) -> Body:
    """Each of a day of its own, so that none pays for another's fruit."""
    co_op = co_op_of(place)
    day = dt.date(2020, 1, 1) + dt.timedelta(days=Pool.objects.filter(co_op=co_op).count())
    return {
        "co_op": str(co_op.pk),
        "name": f"Pool {number} of {day}",
        "starts_on": day.isoformat(),
        "ends_on": day.isoformat(),
        "currency": "EUR",
        "price_per_kg": "2.40",
    }


def make_pool(place: Place, number: int) -> Pool:
    pool = Pool(**by_column(Pool, pool_body(place, number)))
    pool.clean_fields(exclude={"basis"})
    return settlement.save_pool(pool)


def deduction_body(place: Place, number: int) -> Body:
    return {
        "pool": str(make_pool(place, number).pk),
        "what_for": "Packing",
        "kind": "per-kilo",
        "rate": "0.10",
        "member": str(place.farm.pk),
    }


def make_deduction(place: Place, number: int) -> PoolDeduction:
    row = PoolDeduction(**by_column(PoolDeduction, deduction_body(place, number)))
    row.clean_fields()
    return settlement.save_deduction(row)


def make_statement(place: Place, number: int) -> Statement:
    pool = make_pool(place, number)
    models.HarvestWeight.objects.create(
        farm=place.farm,
        block=place.block,
        picked_on=pool.starts_on,
        weight=10,
        unit="kg",
        net_g=10_000,
    )
    settlement.issue(pool, by=None, now=dt.datetime(2026, 11, 1, tzinfo=dt.UTC))
    return Statement.objects.get(pool=pool)


def station_of(place: Place) -> models.WeatherStation:
    named = {"name": "yard", "time_zone": "Atlantic/Madeira"}
    station, _ = models.WeatherStation.objects.get_or_create(farm=place.farm, **named)
    return station


RESOURCES: dict[str, Resource] = {
    "co-ops": Resource(
        model=models.CoOp,
        make=make_co_op,
        body=lambda place, n: {"code": f"NEW{n}", "name": "A new co-op"},
        change={"name": "Renamed"},
    ),
    "closed-seasons": Resource(
        model=ClosedSeason,
        make=make_closed_season,
        body=lambda place, n: closed_season_body(place, n),
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
    "task-logs": Resource(
        model=models.TaskLog,
        body=lambda place, n: on_block(
            place,
            trees=[str(place.tree.pk)],
            kind="pruning",
            done_on="2026-09-10",
            minutes=30 + n,
            details={"method": "heading", "shoots_before_cm": [90], "shoots_removed_cm": [60]},
        ),
        change={"note": "finished"},
    ),
    "growth-stages": Resource(
        model=models.GrowthStage,
        body=lambda place, n: on_block(
            place, observed_on="2026-09-10", bbch="65", trees_seen=n, trees_looked_at=n + 5
        ),
        change={"bbch": "67"},
    ),
    "trunk-girths": Resource(
        model=models.TrunkGirth,
        body=lambda place, n: on_farm(
            place, tree=str(place.tree.pk), trunk=n, measured_on="2026-09-10", girth_mm=250
        ),
        change={"girth_mm": 251},
    ),
    "pollen-batches": Resource(
        model=models.PollenBatch,
        body=lambda place, n: on_farm(
            place,
            name=f"jar {n}",
            collected_at="2026-09-10T05:30:00Z",
            stage="male",
            donor_trees=[str(place.tree.pk)],
            donor_cultivars=[str(make_cultivar("Brumel").pk)],
        ),
        change={"storage_c": 4},
    ),
    "pollination-rounds": Resource(
        model=models.PollinationRound, body=round_body, change={"minutes": 12}
    ),
    "fruit-counts": Resource(
        model=models.FruitCount,
        body=lambda place, n: on_block(
            place,
            counted_on="2026-09-11",
            kind="initial",
            rounds=[str(make("pollination-rounds", place, n).pk)],
            trees=[str(place.tree.pk)],
            flowers_looked_at=20,
            fruit=18,
        ),
        change={"fruit": 17},
    ),
    "fruit-samples": Resource(
        model=models.FruitSample,
        body=lambda place, n: on_block(
            place,
            tree=str(place.tree.pk),
            round=str(make("pollination-rounds", place, n).pk),
            sampled_on="2026-09-11",
            weight_g=300 + n,
        ),
        change={"seeds": 35},
    ),
    "deliveries": Resource(
        model=models.Delivery,
        body=lambda place, n: on_farm(
            place,
            co_op=str(co_op_of(place).pk),
            delivered_on="2026-09-11",
            docket=f"D{n}",
            weights=[str(make("harvest-weights", place, n).pk)],
        ),
        change={"note": "two loads"},
    ),
    "intakes": Resource(model=models.Intake, body=intake_body, change={"note": "weighed again"}),
    "lots": Resource(
        model=models.Lot,
        body=lambda place, n: on_farm(
            place,
            code=f"L{n}",
            packed_on="2026-09-12",
            lines=[{"intake": str(make("intakes", place, n).pk), "weight": 40, "unit": "kg"}],
        ),
        change={"product": "sugar apple, cartons of 5 kg"},
    ),
    "trace-coverages": Resource(
        model=models.TraceCoverage,
        body=lambda place, n: on_farm(
            place,
            species=str(make_species().pk),
            is_covered=False,
            starts_on=f"{2000 + n}-01-01",
            ends_on=f"{2000 + n}-12-31",
            source="The list of that year, read by the owner",
        ),
        change={"is_covered": True},
    ),
    "weather-stations": Resource(
        model=models.WeatherStation,
        body=lambda place, n: on_farm(
            place,
            name=f"station {n}",
            time_zone="Atlantic/Madeira",
            uses=[
                {
                    "farm": str(place.farm.pk),
                    "starts_on": f"{2000 + n}-01-01",
                    "ends_on": f"{2000 + n}-12-31",
                }
            ],
        ),
        change={"elevation_m": 250},
    ),
    "weather-days": Resource(
        model=models.WeatherDay,
        body=lambda place, n: {
            "station": str(station_of(place).pk),
            "day": f"2026-06-{n:02}",
            "tmin_c": 15.5,
            "tmax_c": 24,
        },
        change={"rain_mm": 2},
    ),
    "harvest-imports": Resource(
        model=models.HarvestImport,
        make=make_import,
        body=lambda place, n: on_farm(
            place, file=SimpleUploadedFile("harvest.csv", f"block,{n}\n".encode())
        ),
        form="multipart",
        change={"decimal_mark": ","},
    ),
    "file-batches": Resource(
        model=models.FileBatch,
        make=make_batch,
        body=lambda place, n: {
            "file": [SimpleUploadedFile(f"{place.farm.code}.csv", f"block,{n}\n".encode())]
        },
        form="multipart",
    ),
    "batch-files": Resource(
        model=models.BatchFile, make=make_batch_file, change={"state": "dropped"}
    ),
    "file-layouts": Resource(
        model=models.FileLayout,
        body=lambda place, n: on_farm(place, series=f"series {n}", decimal_mark=","),
        change={"date_order": "day-month-year"},
    ),
    "season-summaries": Resource(model=SeasonSummary, make=make_summary),
    "yield-efficiencies": Resource(
        query=lambda place: {"block": str(place.block.pk)}, is_computed=True
    ),
    "benchmarks": Resource(query=lambda place: on_farm(place), is_computed=True),
    "season-comparisons": Resource(query=lambda place: on_farm(place), is_computed=True),
    "traces": Resource(query=lambda place: {"block": str(place.block.pk)}, is_computed=True),
    "trace-records": Resource(query=lambda place: {"block": str(place.block.pk)}, is_computed=True),
    "pools": Resource(
        model=Pool,
        make=make_pool,
        body=pool_body,
        change={"price_per_kg": "2.60"},
        is_of_co_op=True,
    ),
    "pool-deductions": Resource(
        model=PoolDeduction,
        make=make_deduction,
        body=deduction_body,
        change={"rate": "0.12"},
        is_of_co_op=True,
    ),
    "statements": Resource(model=Statement, make=make_statement),
    "statement-lines": Resource(
        model=StatementLine, make=lambda place, n: make_statement(place, n).lines.get()
    ),
    "findings": Resource(model=Finding, make=make_finding, is_order=True),
    "task-rules": Resource(
        model=TaskRule,
        make=lambda place, n: TaskRule.objects.create(
            **by_column(TaskRule, task_rule_body(place, n))
        ),
        body=lambda place, n: task_rule_body(place, n),
        change={"is_active": False},
    ),
    "schedule-settings": Resource(
        model=ScheduleSetting,
        make=make_setting,
        body=lambda place, n: on_farm(place, days_ahead=n),
        change={"climate": "tropical-lowland"},
    ),
    "species-figures": Resource(
        model=SpeciesFigure,
        make=lambda place, n: save_figure(
            SpeciesFigure(**by_column(SpeciesFigure, species_figure_body(place, n)))
        ),
        body=lambda place, n: species_figure_body(place, n),
        change={"value": 140},
    ),
    "figures-in-force": Resource(
        query=lambda place: on_farm(place, species=make_species().code), is_computed=True
    ),
    "flower-hours": Resource(
        model=FlowerHours,
        make=lambda place, n: FlowerHours.objects.create(
            **by_column(FlowerHours, flower_hours_body(place, n))
        ),
        body=flower_hours_body,
        change={"brush_to_minutes": -90},
    ),
    "pollination-windows": Resource(query=lambda place: on_farm(place), is_computed=True),
    "next-tasks": Resource(
        model=NextTask, make=make_task, change={"skipped_because": "Hail took the shoots."}
    ),
    "undated-tasks": Resource(model=UndatedTask, make=make_undated),
    "stage-forecasts": Resource(model=StageForecast, make=make_forecast),
    "stage-backtests": Resource(query=on_farm, is_computed=True),
    "degree-days": Resource(
        query=lambda place: on_farm(place, lower=10, to="2026-06-30", **{"from": "2026-06-01"}),
        is_computed=True,
    ),
    "labour-plans": Resource(query=on_farm, is_computed=True),
    "pruning-windows": Resource(query=on_farm, is_computed=True),
    "cut-backs": Resource(
        query=on_farm,
        body=lambda place, n: {"block": str(place.block.pk), "shoots": [{"length_cm": 40 + n}]},
        is_order=True,
        is_computed=True,
    ),
    "crop-plans": Resource(
        model=CropPlan,
        make=lambda place, n: CropPlan.objects.create(
            **by_column(CropPlan, crop_plan_body(place, n))
        ),
        body=lambda place, n: crop_plan_body(place, n),
        change={"note": "If the rains come."},
    ),
    "alerts": Resource(model=Alert, make=make_alert, change={"is_acknowledged": True}),
    "tokens": Resource(
        model=models.Token,
        make=make_token,
        body=lambda place, n: on_farm(place, name=f"new app {n}", scopes=["harvest:read"]),
        change={"name": "Renamed"},
    ),
    "invitations": Resource(
        model=models.Invitation,
        make=make_invitation,
        body=lambda place, n: on_farm(
            place, role="worker", name="Newcomer", email=f"new{n}@farm.example"
        ),
        change={"name": "Renamed"},
    ),
    "farm-workbooks": Resource(
        body=lambda place, n: {
            "file": SimpleUploadedFile(
                "farm.xlsx",
                as_xlsx({"blocks": [["farm", "code"], [place.farm.code, f"W{n}"]]}),
            )
        },
        form="multipart",
        is_order=True,
    ),
    "history": Resource(query=lambda place: on_farm(place)),
    "me": Resource(),
}
