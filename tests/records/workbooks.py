"""Farm workbooks made up in memory."""

from collections.abc import Mapping
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.test import APIClient

from tests.importing.making import Rows, as_xlsx

PATH = "/api/v1/farm-workbooks"

FARM: dict[str, Rows] = {
    "farms": [
        ["code", "name", "time zone", "latitude", "longitude"],
        ["LANT", "Lantern slope", "Atlantic/Madeira", 32.7, -17.0],
    ],
    "cultivars": [["farm", "name", "species"], ["LANT", "Yard seedling", "sugar apple"]],
    "blocks": [["code", "name", "area (ha)"], ["N1", "North", 0.5], ["S1", "South", 0.4]],
    "trees": [
        ["block", "rows", "positions", "cultivar", "rootstock", "planted on"],
        ["N1", "1-6", "1-25", "Yard seedling", "seedling", "2020-02-14"],
        ["S1", "1-6", "1-25", "Yard seedling", "seedling", "2021-02-14"],
    ],
    "people": [
        ["name", "e-mail", "role"],
        ["Ines Varela", "ines@lantern.example", "owner"],
    ],
}


def with_sheets(**sheets: Rows) -> dict[str, Rows]:
    """The farm above with some of its sheets otherwise."""
    return {**FARM, **sheets}


def send(
    client: APIClient, sheets: Mapping[str, Rows], *, dry_run: bool = False, **extra: Any
) -> Any:
    file = SimpleUploadedFile("farm.xlsx", as_xlsx(sheets))
    return send_file(client, file, dry_run=dry_run, **extra)


def send_file(client: APIClient, file: Any, **values: Any) -> Any:
    return client.post(PATH, {"file": file, **values}, format="multipart")


def counts(answer: Any) -> dict[str, tuple[int, int, int]]:
    """Created, changed and unchanged, by sheet."""
    return {
        each["sheet"]: (each["created"], each["changed"], each["unchanged"])
        for each in answer.json()["sheets"]
    }


def faults(answer: Any) -> list[tuple[str, int, str, str]]:
    """Sheet, row, column and code of what was refused."""
    return [
        (each["sheet"], each["row"], each["column"], each["code"])
        for each in answer.json()["problems"]
        if not each["is_warning"]
    ]
