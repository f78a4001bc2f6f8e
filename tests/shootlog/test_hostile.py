"""Over 2,000 hostile files: each is refused in words or shown as a fresh picture, none harms."""

import io
import time
from collections import Counter
from pathlib import Path

import pytest
from PIL import Image

from shootlog import store
from shootlog.intake import cage
from shootlog.intake.cage import Broke, look_in_cage
from shootlog.intake.receive import LONGEST_NAME, Refused, receive
from shootlog.models import Frame
from tests.shootlog import hostile

pytestmark = pytest.mark.django_db
AT_LEAST = 2000
LONGEST_S = 20.0  # of one file, with everything; a frame of 24 megapixels takes about one


def test_there_are_more_than_two_thousand_and_no_two_alike():
    kinds = Counter(kind for kind, _, _ in hostile.every_file())
    assert sum(kinds.values()) > AT_LEAST
    assert min(kinds.values()) >= 25, kinds
    # one run and the next make the same bytes, so that a finding can be shown again
    again = [data for _, _, data in hostile.every_file()]
    assert again == [data for _, _, data in hostile.every_file()]


def look(path, name, into):
    """Return what the cage says, in one of its three ways."""
    try:
        return look_in_cage(path, name=name, into=into)
    except Broke as trouble:
        return trouble


def check_words(words, name):
    assert len(words) > 20, name
    assert not any(term in words for term in ("Traceback", "Error", "Exception", "0x")), words


@pytest.mark.slow
def test_every_hostile_file_is_refused_in_words_or_shown_afresh(sam, settings, tmp_path):
    said = Counter()
    slowest = (0.0, "")
    before = set(tmp_path.parent.iterdir())
    for number, (kind, name, data) in enumerate(hostile.every_file()):
        began = time.monotonic()
        try:
            frame, created = receive(io.BytesIO(data), owner=sam, name=name)
        except Refused as refused:
            check_words(str(refused), name)
            said[kind, "refused"] += 1
            continue
        assert "/" not in frame.sent_name, name
        assert "\\" not in frame.sent_name, name
        assert len(frame.sent_name) <= LONGEST_NAME, name
        assert frame.sent_name.isprintable(), name
        into = tmp_path / f"shown-{number}"
        into.mkdir()
        with store.on_disk(frame.original_key) as path:
            assert path.read_bytes() == data  # kept as it came, whatever it is
            looked = look(path, frame.sent_name, into)
        if isinstance(looked, Broke):
            check_words(str(looked), name)
            said[kind, "broke off"] += 1
        else:
            if looked.trouble:
                check_words(looked.trouble, name)
            said[kind, "no picture" if looked.trouble else "shown"] += 1
        for made in into.iterdir():
            assert made.name in {"screen.jpg", "thumb.jpg", "map.npz"}, name
            shown = made.read_bytes()
            assert hostile.MARKER not in shown, (name, made.name)
            if made.suffix == ".jpg":
                picture = Image.open(io.BytesIO(shown))
                picture.load()
                assert (picture.format, max(picture.size) <= 2048) == ("JPEG", True)
        took = time.monotonic() - began
        slowest = max(slowest, (took, name))
        assert took < LONGEST_S, name
    print({f"{kind}: {how}": n for (kind, how), n in sorted(said.items())}, slowest)  # noqa: T201
    total = sum(said.values())
    assert total > AT_LEAST
    for must_be_refused in ("archives",):  # but for those behind a real picture's bytes
        refused = said[must_be_refused, "refused"]
        assert refused >= 12 * 7 * 0.9, said
    assert not list(Path(settings.ARRIVING).glob("receiving-*"))
    stray = set(tmp_path.parent.iterdir()) - before
    assert stray == set()
    stored = {p for p in Path(settings.MEDIA_ROOT).rglob("*") if p.is_file()}
    keys = {store.disk_path(frame.original_key) for frame in Frame.objects.all()}
    assert stored == keys  # every file under its own hash, and no other


@pytest.mark.parametrize("kind", [hostile.archives, hostile.foreign])
def test_what_is_no_picture_is_refused_whatever_it_is_called(sam, kind):
    strangers = [
        (name, data) for name, data in kind() if not name.startswith(("real-", "jpeg-and-"))
    ]
    assert len(strangers) > 80
    for name, data in strangers:
        with pytest.raises(Refused, match="Send"):
            receive(io.BytesIO(data), owner=sam, name=name)
    assert not Frame.objects.exists()


def test_a_picture_is_taken_whatever_it_is_called_and_its_name_is_never_a_path(sam, settings):
    for name, data in hostile.named():
        frame, _ = receive(io.BytesIO(data), owner=sam, name=name)
        path = store.disk_path(frame.original_key)
        assert path.name == frame.sha256
        assert path.is_relative_to(settings.MEDIA_ROOT)


def test_names_are_served_encoded(as_person, sam):
    """RFC 6266: a name in a header neither ends it nor starts another."""
    for name, data in hostile.named():
        frame, _ = receive(io.BytesIO(data), owner=sam, name=name)
        answer = as_person(sam).get(f"/log/{frame.pk}/original")
        told = answer["Content-Disposition"]
        assert told.startswith("attachment")
        assert not set(told) & set("\r\n\0"), name
        assert "Set-Cookie" not in answer.headers or "a=b" not in answer["Set-Cookie"]
        list(answer)


def test_one_person_cannot_fill_the_house(sam, noor, settings):
    settings.FRAMES_PER_PERSON = 2
    data = [hostile.picture("JPEG", seed=k) for k in range(3)]
    for each in data[:2]:
        receive(io.BytesIO(each), owner=sam, name="a.jpg")
    with pytest.raises(Refused, match="you keep 2 frames here, the most for one person"):
        receive(io.BytesIO(data[2]), owner=sam, name="a.jpg")
    receive(io.BytesIO(data[0]), owner=sam, name="again.jpg")  # the same bytes are no new frame
    receive(io.BytesIO(data[2]), owner=noor, name="hers.jpg")


def test_a_picture_that_says_it_is_enormous_is_not_decoded(sam, tmp_path):
    for name, data in hostile.bombs():
        if "says" not in name:
            continue
        path = tmp_path / "bomb"
        path.write_bytes(data)
        began = time.monotonic()
        looked = look(path, name, tmp_path)
        assert isinstance(looked, Broke) or looked.trouble, name
        assert time.monotonic() - began < LONGEST_S
    assert cage is not None
