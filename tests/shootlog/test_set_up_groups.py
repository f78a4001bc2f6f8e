"""Set-ups of the same things mounted stand together, told apart by the mark on the ring."""

import pytest
from django.urls import reverse

from shootlog.forms import SendForm
from shootlog.models import KeptSetUp
from shootlog.set_up_groups import group_set_ups

pytestmark = pytest.mark.django_db


@pytest.fixture
def set_ups(sam):
    """One macro lens at three marks, and a tube on another lens."""
    macro = {"owner": sam, "body": "Hollin H1", "lens": "Sorrel 90 mm macro"}
    return [
        KeptSetUp.objects.create(name=f"macro {mark}", ring_magnification=mark, **macro)
        for mark in (1.0, 0.25, 0.5)
    ] + [KeptSetUp.objects.create(owner=sam, name="50 mm and 36", lens="50 mm", tube_mm=36)]


def test_marks_of_one_lens_are_one_group_in_their_order(set_ups):
    groups = group_set_ups(set_ups)
    assert [group.title for group in groups] == ["Hollin H1, Sorrel 90 mm macro", "50 mm and 36"]
    assert [words for _, words in groups[0].set_ups] == [
        "Ring at 1:4",
        "Ring at 1:2",
        "Ring at 1:1",
    ]


def test_two_that_the_mark_does_not_tell_apart_keep_their_names(sam, set_ups):
    again = KeptSetUp.objects.create(
        owner=sam,
        name="on the bean bag",
        body="Hollin H1",
        lens="Sorrel 90 mm macro",
        ring_magnification=1.0,
    )
    words = [said for _, said in group_set_ups([*set_ups[:3], again])[0].set_ups]
    assert words == ["Ring at 1:4", "Ring at 1:2", "macro 1.0", "on the bean bag"]


def test_the_page_and_the_list_to_choose_from_show_groups(as_person, sam, set_ups):
    page = as_person(sam).get(reverse("shootlog:set-ups")).text
    assert page.count('class="card set-up-group"') == 2
    choices = list(SendForm(owner=sam).fields["set_up"].choices)
    assert choices[0] == ("", "not told")
    labels = {label for label, _ in choices[1:]}
    assert "Hollin H1, Sorrel 90 mm macro" in labels
    form = SendForm({"set_up": set_ups[1].pk}, owner=sam)
    form.is_valid()
    assert form.cleaned_data["set_up"] == set_ups[1]


def test_the_best_aperture_is_shown_where_it_is_used(as_person, sam, set_ups):
    kept = set_ups[0]
    kept.focal_length_mm, kept.sensor_width_mm, kept.best_f_number = 90, 36, 5.6
    kept.save()
    kept.touch()
    client = as_person(sam)
    for address in (
        reverse("shootlog:set-ups"),
        reverse("shootlog:set-up", args=[kept.pk]),
    ):
        assert "f/5.6" in client.get(address).text
    assert 'value="5.6"' in client.get(reverse("planning:what-if")).text
