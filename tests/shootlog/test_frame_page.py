"""One frame's pages and pictures, and who gets them."""

import io

import pytest
from django.urls import reverse
from PIL import Image

from shootlog.models import Frame
from shootlog.set_up import SetUp
from tests.frames import jpeg

pytestmark = pytest.mark.django_db
OWN = ["frame", "how-we-know", "screen", "thumb", "crop", "original", "on-the-sheet"]


@pytest.mark.parametrize("name", OWN)
def test_it_is_not_there_for_anyone_else(as_person, sam, noor, ines, make_frame, name):
    frame = make_frame(sam, pictures=True)
    for person in (noor, ines):
        assert (
            as_person(person).get(reverse(f"shootlog:{name}", args=[frame.pk])).status_code == 404
        )


@pytest.mark.parametrize("name", ["mark", "tell"])
def test_nobody_else_can_change_it(as_person, sam, noor, make_frame, name):
    frame = make_frame(sam)
    answer = as_person(noor).post(
        reverse(f"shootlog:{name}", args=[frame.pk]), {"own_mark": "keep"}
    )
    assert answer.status_code == 404


def test_the_numbers_stand_with_their_range_and_origin(as_person, sam, make_frame):
    from shootlog.reading import Quantity, Reading

    frame = make_frame(sam)
    m = Quantity(0.5, 0.46, 0.54, "told", "the mark on the ring", ("told",))
    Frame.objects.update(reading=Reading(quantities={"magnification": m}).as_json())
    page = as_person(sam).get(reverse("shootlog:frame", args=[frame.pk])).text
    assert "0.50 times" in page
    assert "0.46 to 0.54" in page
    assert "told" in page


def test_how_we_know_names_the_source_and_what_is_not_known(as_person, sam, make_frame):
    frame = make_frame(sam, numbers={"f_number": 8})
    page = as_person(sam).get(reverse("shootlog:how-we-know", args=[frame.pk])).text
    assert "f/8" in page
    assert "Recorded" in page
    assert "Not known: " in page


def test_the_body_s_serial_number_is_never_shown(as_person, sam, make_frame):
    frame = make_frame(sam, numbers={"iso": 100})
    frame.recorded |= {"body_serial": "SECRET-77", "origins": {"iso": "EXIF ISOSpeedRatings"}}
    frame.save()
    for name in ("frame", "how-we-know"):
        assert (
            "SECRET-77" not in as_person(sam).get(reverse(f"shootlog:{name}", args=[frame.pk])).text
        )


def test_a_file_that_cannot_be_opened_says_so_and_what_to_do(as_person, sam, make_frame):
    frame = make_frame(sam, state=Frame.State.UNREADABLE, trouble="Copy it again from the card.")
    page = as_person(sam).get(reverse("shootlog:frame", args=[frame.pk])).text
    assert "Copy it again from the card." in page
    assert "<img" not in page


def test_the_original_comes_back_byte_for_byte_as_a_download(as_person, sam, make_frame):
    data = jpeg()
    frame = make_frame(sam, pictures=True, data=data, sent_name='a "quoted" näme.jpg')
    answer = as_person(sam).get(reverse("shootlog:original", args=[frame.pk]))
    assert b"".join(answer.streaming_content) == data
    answer.close()
    assert answer["Content-Disposition"].startswith("attachment;")
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Type"] == "application/octet-stream"


def test_a_picture_is_private_and_asked_for_once(as_person, sam, make_frame):
    frame = make_frame(sam, pictures=True)
    client = as_person(sam)
    address = reverse("shootlog:screen", args=[frame.pk])
    answer = client.get(address)
    assert answer["Cache-Control"].startswith("private")
    assert answer["X-Content-Type-Options"] == "nosniff"
    again = client.get(address, headers={"If-None-Match": answer["ETag"]})
    assert again.status_code == 304


def checkered(width, height):
    """Each pixel's red and green say where it is, so that a crop can be proved."""
    picture = Image.new("RGB", (width, height))
    picture.putdata(
        [(x * 255 // width, y * 255 // height, 0) for y in range(height) for x in range(width)]
    )
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=98, subsampling=0)
    return out.getvalue()


@pytest.fixture
def wide(sam, make_frame):
    return make_frame(sam, pictures=True, data=checkered(1500, 1100))


def crop(client, frame, **box):
    return client.get(reverse("shootlog:crop", args=[frame.pk]), box)


@pytest.mark.parametrize(("x", "y"), [(0, 0), (900, 1000), (1020, 0), (1300, 900)])
def test_a_crop_shows_the_original_s_own_pixels(as_person, sam, wide, x, y):
    """Truth by construction: colours say the place; JPEG twice costs a few counts."""
    answer = crop(as_person(sam), wide, x=x, y=y, w=200, h=100)
    picture = Image.open(io.BytesIO(answer.content))
    assert picture.size == (200, 100)
    red, green, _ = picture.getpixel((100, 50))
    assert abs(red - (x + 100) * 255 / 1500) < 4
    assert abs(green - (y + 50) * 255 / 1100) < 4


def test_a_crop_ends_where_the_picture_ends(as_person, sam, wide):
    answer = crop(as_person(sam), wide, x=1400, y=1000, w=1024, h=1024)
    assert Image.open(io.BytesIO(answer.content)).size == (100, 100)


@pytest.mark.parametrize(
    "box",
    [
        {},
        {"x": 0, "y": 0, "w": 0, "h": 10},
        {"x": -1, "y": 0, "w": 10, "h": 10},
        {"x": 0, "y": 0, "w": 9999, "h": 10},
        {"x": 5000, "y": 0, "w": 10, "h": 10},
        {"x": "a", "y": 0, "w": 10, "h": 10},
        {"x": "1e3", "y": "nan", "w": 10, "h": 10},
    ],
)
def test_a_crop_that_cannot_be_is_refused_in_words(as_person, sam, wide, box):
    answer = crop(as_person(sam), wide, **box)
    assert answer.status_code == 400
    assert answer.text


def test_a_crop_is_turned_as_the_picture_is_seen(as_person, sam, make_frame):
    """Orientation 6 (Exif 2.32): the stored left edge is seen at the top."""
    picture = Image.new("RGB", (400, 300), "black")
    picture.paste("white", (0, 0, 100, 300))
    exif = Image.Exif()
    exif[0x0112] = 6
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif, quality=95)
    frame = make_frame(sam, pictures=True, data=out.getvalue())
    answer = crop(as_person(sam), frame, x=0, y=0, w=300, h=400)
    seen = Image.open(io.BytesIO(answer.content))
    assert seen.size == (300, 400)
    assert seen.getpixel((150, 20))[0] > 240
    assert seen.getpixel((150, 380))[0] < 15


def test_a_picture_cut_off_by_a_killed_process_is_cut_again(as_person, sam, wide):
    from shootlog import store

    crop(as_person(sam), wide, x=0, y=0, w=10, h=10)
    store.store().delete(f"{wide.shown_key}/tiles/size.json")
    store.store().delete(f"{wide.shown_key}/tiles/1_0.jpg")
    assert crop(as_person(sam), wide, x=1100, y=0, w=10, h=10).status_code == 200


def test_what_is_told_works_the_numbers_out_again(as_person, sam, make_frame):
    frame = make_frame(sam)
    frame.recorded |= {"f_number": 8.0, "focal_length_mm": 90.0, "has_exif": True}
    frame.save()
    data = {"support": "tripod", "subject_depth_mm": "4.5", "note": "wind from the left"}
    as_person(sam).post(reverse("shootlog:tell", args=[frame.pk]), data)
    frame.refresh_from_db()
    assert frame.told == {"support": "tripod", "subject_depth_mm": 4.5}
    assert frame.note == "wind from the left"
    assert frame.reading["subject_depth_mm"]["value"] == 4.5


def test_the_set_up_of_a_frame_is_ones_own(as_person, sam, noor, make_frame):
    from shootlog.models import KeptSetUp

    frame = make_frame(sam)
    other = KeptSetUp.objects.create(owner=noor, name="hers")
    answer = as_person(sam).post(reverse("shootlog:tell", args=[frame.pk]), {"set_up": other.pk})
    assert answer.status_code == 422
    frame.refresh_from_db()
    assert frame.set_up is None


@pytest.mark.parametrize("depth", ["-1", "0", "nan", "inf", "much", "1e9"])
def test_a_depth_that_cannot_be_is_refused_in_words(as_person, sam, make_frame, depth):
    frame = make_frame(sam)
    answer = as_person(sam).post(
        reverse("shootlog:tell", args=[frame.pk]), {"subject_depth_mm": depth, "note": "kept text"}
    )
    assert answer.status_code == 422
    assert "kept text" in answer.text


def test_a_kept_set_up_gives_the_plain_one(sam):
    from shootlog.models import KeptSetUp

    kept = KeptSetUp(owner=sam, name="x", tube_mm=12, reversed=True, support="rail")
    assert kept.as_set_up() == SetUp(tube_mm=12.0, reversed=True, support="rail")


def test_measured_blur_stands_beside_the_blur_to_expect(as_person, sam, make_frame):
    frame = make_frame(sam, numbers={
        "wanted_blur_px": 4.6, "diffraction_blur_um": 12.0, "file_pixel_um": 6.0,
        "blur_at_depth_limits_um": 30.0,
    })  # fmt: skip
    page = as_person(sam).get(reverse("shootlog:frame", args=[frame.pk])).text
    assert "Blur measured where you wanted it sharp: 4.6 pixels" in page
    assert "Blur to expect: 2.0 pixels (12 µm) from the opening alone" in page
