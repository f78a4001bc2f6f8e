"""Files on their way in speak tus 1.0.0.

Status codes and headers: tus resumable upload protocol 1.0.0 (2016-03-25), core protocol and the
extensions creation, checksum and termination.
"""

import base64
import errno
import hashlib
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from shootlog.models import Frame, Upload
from shootlog.models.upload import Busy
from tests.frames import jpeg

pytestmark = pytest.mark.django_db
TUS = {"Tus-Resumable": "1.0.0"}
OCTETS = {"Content-Type": "application/offset+octet-stream"}  # also of an empty piece


def b64(data):
    return base64.b64encode(data).decode()


@pytest.fixture
def client(as_person, sam):
    return as_person(sam)


def begin(client, length, *, name="DSC_1.JPG", **told):
    pairs = {"filename": name} | told
    metadata = ",".join(f"{key} {b64(str(value).encode())}" for key, value in pairs.items())
    headers = TUS | {"Upload-Length": str(length), "Upload-Metadata": metadata}
    return client.post(reverse("shootlog:uploads"), headers=headers)


def piece(client, address, data, offset, **headers):
    return client.patch(
        address,
        data,
        headers=TUS | OCTETS | {"Upload-Offset": str(offset)} | headers,
    )


def where(client, address):
    return client.head(address, headers=TUS)


def test_it_says_what_it_speaks(client):
    answer = client.options(reverse("shootlog:uploads"))
    assert answer.status_code == 204
    assert answer["Tus-Version"] == "1.0.0"
    assert set(answer["Tus-Extension"].split(",")) == {"creation", "checksum", "termination"}
    assert "sha1" in answer["Tus-Checksum-Algorithm"]
    assert int(answer["Tus-Max-Size"]) > 100_000_000


def test_a_file_in_pieces_becomes_a_frame_byte_for_byte(client, sam):
    data = jpeg()
    answer = begin(client, len(data))
    assert answer.status_code == 201
    address = answer["Location"]
    half = len(data) // 2
    answer = piece(client, address, data[:half], 0)
    assert (answer.status_code, answer["Upload-Offset"]) == (204, str(half))
    answer = piece(client, address, data[half:], half)
    assert answer["Upload-Offset"] == str(len(data))
    frame = Frame.objects.get()
    assert answer["Frame-Location"] == reverse("shootlog:frame", args=[frame.pk])
    assert answer["Frame-Known"] == "no"
    assert frame.sha256 == hashlib.sha256(data).hexdigest()
    assert (frame.owner, frame.sent_name) == (sam, "DSC_1.JPG")


def test_where_it_stopped_is_told_and_it_goes_on_from_there(client):
    data = jpeg()
    address = begin(client, len(data))["Location"]
    piece(client, address, data[:50], 0)
    answer = where(client, address)
    assert (answer.status_code, answer["Upload-Offset"]) == (200, "50")
    assert answer["Upload-Length"] == str(len(data))
    assert answer["Cache-Control"] == "no-store"
    assert piece(client, address, data[50:], 50).status_code == 204
    assert Frame.objects.count() == 1


def test_the_bytes_on_disk_are_the_offset(client):
    """A row in the database that repeated it could disagree after a power cut."""
    address = begin(client, 100)["Location"]
    piece(client, address, b"x" * 30, 0)
    upload = Upload.objects.get()
    with upload.path.open("ab") as lost_with_its_answer:
        lost_with_its_answer.write(b"x" * 5)
    assert where(client, address)["Upload-Offset"] == "35"


def test_a_piece_at_another_place_is_refused(client):
    address = begin(client, 100)["Location"]
    assert piece(client, address, b"x" * 30, 10).status_code == 409
    assert where(client, address)["Upload-Offset"] == "0"


def test_the_last_answer_may_get_lost(client):
    data = jpeg()
    address = begin(client, len(data))["Location"]
    piece(client, address, data, 0)
    again = piece(client, address, b"", len(data))
    assert again.status_code == 204
    assert again["Frame-Location"] == reverse("shootlog:frame", args=[Frame.objects.get().pk])
    assert where(client, address)["Upload-Offset"] == str(len(data))
    assert Frame.objects.count() == 1


def test_a_house_killed_before_the_last_step_finishes_it_when_asked(client):
    data = jpeg()
    address = begin(client, len(data))["Location"]
    Upload.objects.get().path.parent.mkdir(parents=True, exist_ok=True)
    Upload.objects.get().path.write_bytes(data)  # all there, nothing received yet
    assert piece(client, address, b"", len(data))["Frame-Location"]
    assert Frame.objects.count() == 1


def test_the_same_bytes_again_are_the_same_frame(client):
    data = jpeg()
    for known in ("no", "yes"):
        address = begin(client, len(data))["Location"]
        assert piece(client, address, data, 0)["Frame-Known"] == known
    assert Frame.objects.count() == 1


@pytest.mark.parametrize("name", ["sha1", "sha256", "md5"])
def test_a_checksum_is_checked(client, name):
    data = jpeg()
    address = begin(client, len(data))["Location"]
    right = b64(hashlib.new(name, data[:40]).digest())
    wrong = b64(hashlib.new(name, b"other").digest())
    assert (
        piece(client, address, data[:40], 0, **{"Upload-Checksum": f"{name} {wrong}"}).status_code
        == 460
    )
    assert where(client, address)["Upload-Offset"] == "0"
    assert (
        piece(client, address, data[:40], 0, **{"Upload-Checksum": f"{name} {right}"}).status_code
        == 204
    )


@pytest.mark.parametrize("header", ["crc32 AAAA", "sha1 %%%", "sha1"])
def test_a_checksum_it_cannot_check_is_refused(client, header):
    address = begin(client, 100)["Location"]
    answer = piece(client, address, b"x", 0, **{"Upload-Checksum": header})
    assert answer.status_code in (400, 460)
    assert where(client, address)["Upload-Offset"] == "0"


def test_more_than_was_said_is_refused_and_undone(client):
    address = begin(client, 10)["Location"]
    assert piece(client, address, b"x" * 11, 0).status_code == 413
    assert where(client, address)["Upload-Offset"] == "0"


def test_an_upload_can_be_forgotten(client):
    address = begin(client, 100)["Location"]
    piece(client, address, b"x" * 30, 0)
    path = Upload.objects.get().path
    assert client.delete(address, headers=TUS).status_code == 204
    assert not path.exists()
    assert where(client, address).status_code == 404


@pytest.mark.parametrize("verb", ["head", "patch", "delete"])
def test_it_is_not_there_for_others(as_person, client, noor, verb):
    address = begin(client, 100)["Location"]
    answer = getattr(as_person(noor), verb)(address, headers=TUS | {"Upload-Offset": "0"})
    assert answer.status_code == 404


def test_nobody_uploads_without_signing_in(client):
    from django.test import Client

    answer = Client().post(reverse("shootlog:uploads"), headers=TUS | {"Upload-Length": "5"})
    assert answer.status_code == 302
    assert not Upload.objects.exists()


def test_another_version_is_refused(client):
    answer = client.post(reverse("shootlog:uploads"), headers={"Tus-Resumable": "0.2.2"})
    assert answer.status_code == 412
    assert answer["Tus-Version"] == "1.0.0"


@pytest.mark.parametrize("length", ["", "-1", "1e9", "0", "9" * 20, "１２"])
def test_a_length_that_is_none_is_refused(client, length):
    headers = TUS | {"Upload-Length": length.encode().decode("latin-1")}
    answer = client.post(reverse("shootlog:uploads"), headers=headers)
    assert answer.status_code == 400
    assert not Upload.objects.exists()


def test_a_file_too_large_is_refused_before_a_byte_is_sent(client, settings):
    settings.LARGEST_FILE_BYTES = 5 * 1024 * 1024
    answer = begin(client, 6 * 1024 * 1024)
    assert answer.status_code == 413
    assert "5 MB" in answer.text


def test_a_piece_of_another_type_is_refused(client):
    address = begin(client, 100)["Location"]
    answer = client.patch(
        address, b"x", content_type="text/plain", headers=TUS | {"Upload-Offset": "0"}
    )
    assert answer.status_code == 415


def test_a_file_that_is_no_picture_is_named_and_forgotten(client):
    data = b"A letter, not a picture. " * 10
    address = begin(client, len(data), name="letter.txt")["Location"]
    answer = piece(client, address, data, 0)
    assert answer.status_code == 415
    assert "letter.txt" in answer.text
    assert not Upload.objects.exists()
    assert not Frame.objects.exists()


def test_a_full_disk_keeps_what_came_before(client, monkeypatch):
    address = begin(client, 100)["Location"]
    piece(client, address, b"x" * 30, 0)

    def full(*args):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Upload, "settle", staticmethod(full))
    answer = piece(client, address, b"x" * 30, 30)
    assert answer.status_code == 507
    monkeypatch.undo()
    assert where(client, address)["Upload-Offset"] == "30"


def test_two_requests_cannot_write_at_once(client):
    address = begin(client, 100)["Location"]
    with Upload.objects.get().held():
        assert piece(client, address, b"x" * 10, 0).status_code == 423
        with pytest.raises(Busy), Upload(pk=address.split("/")[-2]).held():
            pass
    assert piece(client, address, b"x" * 10, 0).status_code == 204


def test_the_set_up_told_is_taken_only_if_it_is_ones_own(client, sam, noor):
    from shootlog.models import KeptSetUp

    own = KeptSetUp.objects.create(owner=sam, name="mine")
    other = KeptSetUp.objects.create(owner=noor, name="hers")
    begin(client, 100, set_up=own.pk)
    begin(client, 100, set_up=other.pk)
    begin(client, 100, set_up="x' OR 1=1")
    assert [u.set_up for u in Upload.objects.order_by("begun_at")] == [own, None, None]


def test_metadata_that_cannot_be_read_is_left_out(client):
    headers = TUS | {"Upload-Length": "10", "Upload-Metadata": "filename %%%,set_up,note /w=="}
    assert client.post(reverse("shootlog:uploads"), headers=headers).status_code == 201


def test_what_nobody_resumes_is_swept(client):
    begin(client, 100)
    old = Upload.objects.get()
    piece(client, reverse("shootlog:upload", args=[old.pk]), b"x" * 10, 0)
    Upload.objects.update(begun_at=timezone.now() - timedelta(days=4))
    begin(client, 100)
    assert not old.path.exists()
    assert Upload.objects.count() == 1


def test_a_nul_in_what_is_told_reaches_no_database(as_person, sam):
    """PostgreSQL keeps none in a text; a name is for people and is never a path."""
    answer = begin(as_person(sam), 3, name="a/b\0c.jpg", note="pe\0tal")
    assert answer.status_code == 201
    row = Upload.objects.get()
    assert (row.sent_name, row.note) == ("bc.jpg", "petal")
