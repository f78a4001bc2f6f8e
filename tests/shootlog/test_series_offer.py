"""What is offered as a series on My log, and that nobody is made to take it."""

import pytest
from django.urls import reverse

from shootlog.models import Frame, Series
from shootlog.series_offer import ask_for_offers, offer_series
from tests.shootlog.test_series_job import RAIL, read

pytestmark = pytest.mark.django_db


@pytest.fixture
def rail(sam, make_frame):
    """Four slices ten seconds apart, as one would shoot them."""
    return [
        read(make_frame, sam, path, k, taken_at=f"2026-05-03T09:00:{10 * k:02d}+00:00")
        for k, path in enumerate(RAIL[:4])
    ]


def test_like_frames_in_a_row_are_offered_once(as_person, sam, rail, work):
    ask_for_offers(rail[-1])
    ask_for_offers(rail[-1])
    work()
    offer = Series.objects.offered().get()
    assert offer.kind == "stack"
    assert list(offer.places.values_list("frame_id", flat=True)) == [f.pk for f in rail]
    offer_series.func(sam.pk)
    assert Series.objects.offered().get() == offer  # the same one: its page stays
    page = as_person(sam).get(reverse("shootlog:log")).content.decode()
    assert "Do these belong together?" in page


def test_one_tap_makes_it_a_series_that_is_looked_at(as_person, sam, rail, work):
    offer_series.func(sam.pk)
    offer = Series.objects.offered().get()
    as_person(sam).post(reverse("shootlog:belong-together", args=[offer.pk]))
    work()
    offer.refresh_from_db()
    assert offer.confirmed
    assert offer.state == Series.State.READY
    offer_series.func(sam.pk)
    assert not Series.objects.offered().exists()


def test_not_so_is_not_offered_again(as_person, sam, rail):
    offer_series.func(sam.pk)
    offer = Series.objects.offered().get()
    as_person(sam).post(reverse("shootlog:not-a-series", args=[offer.pk]))
    offer_series.func(sam.pk)
    assert not Series.objects.offered().exists()
    assert "belong together?" not in as_person(sam).get(reverse("shootlog:log")).content.decode()


def test_frames_without_a_time_are_never_offered(sam, rail):
    Frame.objects.update(taken_at=None)
    offer_series.func(sam.pk)
    assert not Series.objects.exists()
