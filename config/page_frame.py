"""What every page's frame needs: the person's places, paper and type size."""

from django.urls import reverse

from course.models import Course, Person


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
    out = []
    for words, name in places:
        href = reverse(name)
        here = request.path == href or (href != "/" and request.path.startswith(href))
        out.append({"words": words, "href": href, "here": here})
    return out


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
