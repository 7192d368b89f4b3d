"""One batch sent many times, and one question answered by many, at the same moment."""

from collections import Counter
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from records.models import FileBatch, HarvestImport
from tests.api.resources import make_farm
from tests.api.test_conditional_writes import AT_ONCE, at_once
from tests.cast import Cast, client_of, make_cast

PATH = "/api/v1/file-batches"


@pytest.fixture
def cast(committed: None) -> Cast:
    return make_cast()


def post(cast: Cast, name: str, **fields: Any) -> Any:
    file = SimpleUploadedFile(name, b"Date,Block,Kilos\n2026-09-10,N1,20\n")
    body = {"file": [file], **fields}
    return client_of(cast.ours.owner).post(PATH, body, format="multipart")


def test_a_batch_sent_many_times_at_once_is_one(cast: Cast) -> None:
    key = str(uuid4())
    answers = at_once(lambda _: post(cast, "OURS.csv", id=key))
    assert Counter(answer.status_code for answer in answers) == {202: 1, 200: AT_ONCE - 1}
    assert (FileBatch.objects.count(), HarvestImport.objects.count()) == (1, 1)


def test_a_question_answered_many_times_at_once_starts_one_import(cast: Cast) -> None:
    other = make_farm(cast.ours, 7)
    file = post(cast, "x.csv").json()["files"][0]["id"]
    farms = [cast.ours.farm.pk, other.pk]

    def answer(number: int) -> Any:
        body = {"farm": str(farms[number % 2])}
        return client_of(cast.ours.owner).patch(f"/api/v1/batch-files/{file}", body)

    codes = Counter(one.status_code for one in at_once(answer))
    assert codes == {200: AT_ONCE // 2, 409: AT_ONCE // 2}
    assert HarvestImport.objects.count() == 1
