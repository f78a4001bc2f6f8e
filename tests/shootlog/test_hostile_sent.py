"""All hostile files sent as a program sends them, and read by a worker: counted, by what was said.

Made here (`hostile.py`), and malformed files that others published (`../shared/frames`, where it
lies beside the project). Prints the table that README's honesty section quotes.
"""

import json
from collections import Counter
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.test import APIClient

from shootlog.models import ApiToken, Frame, Job
from tests.frames import jpeg
from tests.shootlog import hostile

PUBLIC = Path(__file__).parents[2] / ".." / "shared" / "frames"
AT_LEAST = 2000
AT_A_TIME = 100
EDGE = "an-edge-that-is-in-no-file-2026"
FORM = f"multipart/form-data; boundary={EDGE}"
REFUSED = {
    400: "refused: empty or without a name",
    413: "refused: too large",
    415: "refused: no picture",
}


def every_file():
    yield from hostile.every_file()
    for kind in ("corrupt", "corrupt_fuzz"):
        for path in sorted((PUBLIC / kind).glob("*")) if PUBLIC.exists() else []:
            yield kind, path.name, path.read_bytes()


def form(name, data):
    """The bytes of the form as a stranger would write them, the name as it is."""
    plain = name.replace("\\", "\\\\").replace('"', '\\"').replace("\r", "").replace("\n", "")
    said = f'Content-Disposition: form-data; name="file"; filename="{plain}"'
    head = f"--{EDGE}\r\n{said}\r\nContent-Type: image/jpeg\r\n\r\n".encode(errors="replace")
    return head + data + f"\r\n--{EDGE}--\r\n".encode()


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_every_hostile_file_is_answered_in_words_and_the_worker_goes_on(sam, work):
    client = APIClient(raise_request_exception=False)
    client.credentials(HTTP_AUTHORIZATION=f"Token {ApiToken.objects.make(sam)[1]}")
    told, sent, taken = Counter(), Counter(), {}
    for kind, name, data in every_file():
        answer = client.generic("POST", "/api/frames/", form(name, data), content_type=FORM)
        sent[kind] += 1
        if answer.status_code in (200, 201):
            taken.setdefault(answer.json()["id"], kind)
            if answer.status_code == 200:
                told[kind, "the same bytes as before"] += 1
        else:
            assert answer.status_code in REFUSED, (name, answer.content[:300])
            words = answer.json()["detail"]
            assert len(words) > 20, (name, words)
            assert not any(x in words for x in ("Traceback", "Error", "Exception")), words
            told[kind, REFUSED[answer.status_code]] += 1
        if len(taken) % AT_A_TIME == 0:
            work()
    work()
    assert not Job.objects.exclude(state__in=["done", "failed"]).exists()
    for frame in Frame.objects.owned_by(sam).iterator():
        assert frame.is_settled, frame
        assert frame.is_readable or len(frame.trouble) > 20, frame
        told[taken[frame.pk], "shown" if frame.is_readable else "kept, no picture"] += 1
    print(json.dumps({kind: how_many(told, kind) | {"sent": n} for kind, n in sent.items()}))
    print(json.dumps({"sent": sum(sent.values()), "jobs failed": failed()} | how_many(told)))
    assert sum(sent.values()) > AT_LEAST
    assert sum(told.values()) == sum(sent.values())
    good = SimpleUploadedFile("good.jpg", jpeg())
    pk = client.post("/api/frames/", {"file": good}, format="multipart").json()["id"]
    work()
    assert Frame.objects.get(pk=pk).is_readable


def how_many(told, kind=None):
    found = Counter()
    for (each, how), n in told.items():
        if kind in (None, each):
            found[how] += n
    return dict(sorted(found.items()))


def failed():
    return Job.objects.filter(state="failed").count()
