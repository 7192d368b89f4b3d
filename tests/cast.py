"""The fixed cast of the tests: our farm, the neighbour's farm, a co-op, and their people."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from rest_framework.test import APIClient

from records.models import (
    Block,
    Container,
    CoOp,
    CoOpRole,
    Crop,
    Cultivar,
    Farm,
    FarmRole,
    Grade,
    Membership,
    Person,
    Species,
    Token,
    Tree,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A farm with one of everything."""

    farm: Farm
    block: Block
    tree: Tree
    container: Container
    grade: Grade
    cull: Grade
    crop: Crop
    owner: Person


def make_person(email: str, **extra: Any) -> Person:
    return Person.objects.create(email=email, name=email.split("@")[0].title(), **extra)


def make_species() -> Species:
    species, _ = Species.objects.get_or_create(
        code="sugar-apple",
        defaults={
            "common_name": "sugar apple",
            "scientific_name": "Annona squamosa",
            "bearing_age_years": 3,
            "bearing_age_source": "common practice, no source",
        },
    )
    return species


def make_cultivar(name: str = "Ondrela", farm: Farm | None = None) -> Cultivar:
    cultivar, _ = Cultivar.objects.get_or_create(name=name, farm=farm, species=make_species())
    return cultivar


def make_place(code: str, **extra: Any) -> Place:
    farm = Farm.objects.create(
        code=code, name=f"Farm {code}", **{"time_zone": "Atlantic/Madeira", **extra}
    )
    owner = make_person(f"owner@{code.lower()}.example")
    FarmRole.objects.create(farm=farm, person=owner, role="owner")
    block = Block.objects.create(farm=farm, code="N1", area_m2=5_000)
    return Place(
        farm=farm,
        block=block,
        tree=Tree.objects.create(
            farm=farm,
            block=block,
            row=1,
            position=1,
            cultivar=make_cultivar(),
            planted_on=dt.date(2018, 3, 1),
        ),
        container=Container.objects.create(
            farm=farm, code="crate", tare_g=1_500, usual_net_g=12_000
        ),
        grade=Grade.objects.create(farm=farm, code="A", is_marketable=True),
        cull=Grade.objects.create(
            farm=farm, code="C", is_marketable=False, cull_reason="cracked skin"
        ),
        crop=Crop.objects.create(
            farm=farm, block=block, opened_by="pruning", opened_on=dt.date(2026, 3, 3)
        ),
        owner=owner,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Cast:
    ours: Place
    neighbour: Place
    co_op: CoOp
    membership: Membership
    manager: Person
    worker: Person
    adviser: Person
    staff: Person
    admin: Person


def make_cast() -> Cast:
    """Our farm is a member that shares its harvest; the neighbour belongs to no co-op."""
    ours, neighbour = make_place("OURS"), make_place("NEXT")
    co_op = CoOp.objects.create(code="COOP", name="The co-op")
    roles = {}
    for role in ("manager", "worker", "adviser"):
        roles[role] = make_person(f"{role}@ours.example")
        FarmRole.objects.create(farm=ours.farm, person=roles[role], role=role)
    staff = make_person("staff@co-op.example")
    CoOpRole.objects.create(co_op=co_op, person=staff)
    return Cast(
        ours=ours,
        neighbour=neighbour,
        co_op=co_op,
        membership=Membership.objects.create(
            co_op=co_op, farm=ours.farm, starts_on=dt.date(2020, 1, 1)
        ),
        staff=staff,
        admin=make_person("admin@platform.example", is_superuser=True, is_staff=True),
        **roles,
    )


def client_of(person: Person) -> APIClient:
    """A signed-in person's client; a crash is an answer, as it is for a real client."""
    client = APIClient(raise_request_exception=False)
    client.force_login(person)
    return client


def client_with(token_of: Farm | CoOp, *scopes: str) -> APIClient:
    """An app's client with a fresh token of a farm or co-op."""
    client = APIClient(raise_request_exception=False)
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret_of(token_of, *scopes)}")
    return client


def secret_of(token_of: Farm | CoOp, *scopes: str) -> str:
    """A fresh token, as its app sends it."""
    owner = {"farm": token_of} if isinstance(token_of, Farm) else {"co_op": token_of}
    token = Token(
        name="test app",
        scopes=list(scopes),
        expires_at=dt.datetime.now(dt.UTC) + dt.timedelta(days=30),
        **owner,
    )
    secret = token.issue()
    token.save(force_insert=True)
    return secret


def weighing(place: Place, **changes: Any) -> dict[str, Any]:
    """The body of a plain weighing on a place's block."""
    return {
        "farm": str(place.farm.pk),
        "block": str(place.block.pk),
        "picked_on": "2026-09-10",
        "weight": 12.5,
        "unit": "kg",
        **changes,
    }
