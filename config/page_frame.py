"""What every page's frame needs: the person's places, paper and type size."""

from django.urls import reverse

from course.models import Course, Person

#: the place a page belongs to, by the first part of its address; the first that the person has
UNDER = {
    "to-look-at": ("phrases", "class-sheet", "projection", "print-evening", "print", "pair"),
    "groups": ("meetings",),
    "course": ("week", "lesson", "exercise", "topic"),
    "this-week": ("came-back", "hand-in", "my-weeks", "pair", "lesson", "exercise", "course"),
    "log": ("contact-sheet", "field-log"),
    "people": ("groups",),
}


def _here(request, href, places):
    """Say "page" where one stands on the place itself, "true" where one is somewhere under it."""
    if request.path == href:
        return "page"
    first = request.path.split("/")[1]
    own = {place: first == place or first in UNDER.get(place, ()) for place in places}
    nearest = first if own.get(first) else next((p for p in places if own[p]), None)
    return "true" if nearest == href.strip("/") else ""


def _places(request):
    """Four places in words; which four follows from what the person does here."""
    user = request.user
    teaches = Course.objects.taught_by(user).exists()
    learns = Course.objects.taken_by(user).exists()
    if teaches:
        places = [
            ("To look at", "course:to-look-at"),
            ("Groups", "course:groups"),
            ("Course", "course:courses"),
            ("Plan", "course:plan"),
        ]
        if learns:
            places.insert(0, ("This week", "course:this-week"))
    else:
        places = [
            ("This week", "course:this-week"),
            ("My log", "shootlog:log"),
            ("Plan", "course:plan"),
            ("People", "course:people"),
        ]
    hrefs = [(words, reverse(name)) for words, name in places]
    firsts = [href.strip("/") for _, href in hrefs]
    return [
        {"words": words, "href": href, "here": _here(request, href, firsts)}
        for words, href in hrefs
    ]


def page_frame(request):
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"paper_class": "paper-as-device", "large_type": False}
    person = Person.objects.filter(user=user).first()
    paper = person.paper if person else "day"
    return {
        "places": _places(request),
        "person_name": person.display_name if person else user.get_username(),
        "paper_class": "paper-" + paper.replace(" ", "-"),
        "large_type": bool(person and person.large_type),
    }
