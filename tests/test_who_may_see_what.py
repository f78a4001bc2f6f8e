"""Every address as every role: a route that is not in the table fails, and so does a leak."""

import uuid
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.core import signing
from django.core.files.base import ContentFile
from django.test import Client
from django.urls import URLResolver, get_resolver, reverse
from django.utils import timezone

from course.digests import CONFIRM_SALT, STOP_SALT
from course.models import (
    CoursePicture,
    Enrolment,
    Exercise,
    Group,
    HandIn,
    Invitation,
    Lesson,
    Meeting,
    OpenSession,
    Phrase,
    ResetLink,
    Revision,
    Week,
)
from course.views.meetings import SALT
from shootlog import store
from shootlog.models import (
    ApiToken,
    Camera,
    FieldNote,
    Flag,
    KeptPlan,
    KeptSetUp,
    KitItem,
    Series,
    Upload,
)
from tests.house import BASE
from tests.who_may_see import KINDS, ROLES, ROUTES, as_markdown, expected

TUS = {"Tus-Resumable": "1.0.0"}
UNNAMED = {"favicon.ico"}  # answers nothing to everyone


def named_routes(resolver, namespace=""):
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{pattern.namespace}:" if pattern.namespace else namespace
            yield from named_routes(pattern, inner)
        else:
            yield f"{namespace}{pattern.name}" if pattern.name else str(pattern.pattern)


def test_every_route_is_in_the_table_and_the_table_names_no_other():
    there = set(named_routes(get_resolver())) - UNNAMED
    told = {name.partition("|")[0] for name in ROUTES}
    assert there - told == set(), "say in tests/who_may_see.py who gets this"
    assert told - there == set()
    assert {kind for kind, *_ in ROUTES.values()} == set(KINDS)


def test_the_document_says_the_same():
    text = (BASE / "DEVELOPERS.md").read_text()
    told = text.partition("<!-- who-may-see -->\n")[2].partition("\n<!-- /who-may-see -->")[0]
    assert told == as_markdown(), "python -m tests.who_may_see writes it anew"


@pytest.fixture
def lena(make_person, course):
    other = Group.objects.create(course=course, name="Autumn group")
    user = make_person("lena")
    Enrolment.objects.create(group=other, user=user)
    return user


@pytest.fixture
def roles(otto, sam, noor, lena, arno, ines, greta):
    people = (None, otto, sam, noor, lena, arno, ines, greta)
    return dict(zip(ROLES, people, strict=True))


@pytest.fixture
def things(roles, course, group, make_frame):
    """One of everything, Sam's where it is a student's."""
    sam, ines = roles["owner"], roles["instructor"]
    t = SimpleNamespace(course=course, group=group, sam=sam)
    t.week = Week.objects.create(course=course, number=1, title="Getting close")
    t.exercise = Exercise.objects.create(week=t.week, title="A seed head")
    later = Week.objects.create(course=course, number=9, title="Later")
    t.hidden_exercise = Exercise.objects.create(week=later, title="Later", hidden=True)
    t.lesson = Lesson.objects.create(week=t.week, title="Depth", topics=["shake"])
    t.hidden_lesson = Lesson.objects.create(week=later, title="Later", hidden=True)
    for page in (t.week, t.lesson, t.exercise):
        Revision.objects.keep(page, by=ines)
    t.week_revision = t.week.revisions.get()
    t.lesson_revision, t.exercise_revision = t.lesson.revisions.get(), t.exercise.revisions.get()
    t.picture = CoursePicture.objects.create(
        course=course, name="pictures/drawing.png", content=b"\x89PNG"
    )
    t.frame = make_frame(sam, pictures=True, flags=["diffraction"])
    t.day_shot = f"{timezone.localdate():%Y-%m-%d}"
    t.people_frame = make_frame(sam, pictures=True, people_in_it="not asked")

    t.series = Series.objects.of_frames(owner=sam, kind="stack", frames=[t.frame])
    Series.objects.update(check_result={"proof": True}, state="ready")
    store.store().save(t.series.proof_key, ContentFile(b"\x89PNG"))
    Flag.objects.create(series=t.series, finding="stack-gap", sure="measured")
    t.approach = Series.objects.of_frames(owner=sam, kind="approach", frames=[t.frame])
    t.offer = Series.objects.of_frames(owner=sam, kind="stack", frames=[t.people_frame])
    Series.objects.filter(pk=t.offer.pk).update(confirmed=False)

    def hand_in(frame, **said):
        about = {"exercise": t.exercise, "group": group, "student": sam, "series": t.series}
        said = about | said
        return HandIn.objects.hand_in(frames=[frame], **said)

    t.private = hand_in(t.frame)
    t.shared = hand_in(t.frame, shared_with_group=True)
    t.with_people = hand_in(t.people_frame, shared_with_group=True)
    t.withdrawn = hand_in(t.frame, withdrawn_at=timezone.now())
    t.reshoot = hand_in(t.frame, reshoot_of=t.private)
    t.crit = t.shared.ask_reshoot(by=ines, one_thing="closer")
    t.crit.voice_key = "voices/test.webm"
    t.crit.save()
    store.store().save(t.crit.voice_key, ContentFile(b"\x1aE\xdf\xa3"))
    t.crit.release()
    t.phrase = Phrase.objects.create(author=ines, about="any", words="Closer.")
    soon = timezone.now() + timedelta(days=1)
    t.meeting = Meeting.objects.create(
        group=group, starts_at=soon, ends_at=soon + timedelta(hours=2)
    )
    t.enrolment = Enrolment.objects.get(user=sam)
    t.invitation_row, t.invitation = Invitation.objects.make(
        lasts=timedelta(days=1), role="student", course=course, group=group
    )
    t.reset = ResetLink.objects.make(lasts=timedelta(days=1), user=sam)[1]
    t.feed = signing.dumps([sam.pk, group.pk], salt=SALT)
    t.stop_mails = signing.dumps(sam.pk, salt=STOP_SALT)
    t.confirm_mail = signing.dumps([sam.person.pk, "sam@example.org"], salt=CONFIRM_SALT)
    t.set_up = KeptSetUp.objects.create(owner=sam, name="rail")
    t.upload = Upload.objects.create(owner=sam, length=10)
    t.kit = KitItem.objects.create(owner=sam, kind="lens", name="90 mm")
    t.note = FieldNote.objects.create(owner=sam, phone_id=uuid.uuid4(), noted_at=timezone.now())
    t.camera = Camera.objects.create(owner=sam, make="Hollin", model="H1")
    t.plan = KeptPlan.objects.create(owner=sam, name="beetle")
    Client().force_login(sam)
    t.session = OpenSession.objects.filter(user=sam).first()
    return t


def argument(things, name):
    thing = getattr(things, name, None)
    if thing is None:
        return name.removeprefix("=")
    return getattr(thing, "pk", thing)


def sent(route, things):
    return {
        "api-hand-ins": {"exercise": things.exercise.pk, "frames": []},
        "api-crits": {"hand_in": things.private.pk, "words": "x"},
    }.get(route, {})


def ask(route, person, things, query=""):
    """Ask a route as a person; for a program, with that person's token."""
    _, method, args = ROUTES[route]
    path = reverse(
        route.partition("|")[0], kwargs={key: argument(things, name) for key, name in args.items()}
    )
    path += query
    client = Client()
    headers = TUS if "upload" in route else {}
    if route.startswith("api-"):
        if person is not None:
            _, key = ApiToken.objects.make(person)
            headers = {"Authorization": f"Token {key}"}
        data = sent(route, things)
        if route == "api-hand-ins" and person is not None:
            frame = things.frame if person == things.sam else things.frames_of(person)
            data = data | {"frames": [frame.pk]}
        if method == "post" and route != "api-frames":
            return client.post(path, data, content_type="application/json", headers=headers)
    elif person is not None:
        client.force_login(person)
    return getattr(client, method)(path, headers=headers)


def cell(answer):
    """Write an answer as the table does."""
    if answer.status_code in (401, 404):
        return {401: "401", 404: "-"}[answer.status_code]
    if answer.status_code == 302 and answer.url.startswith("/sign-in/?next="):
        return "in"
    assert answer.status_code < 500
    assert answer.status_code != 405, "asked in another way than the route answers to"
    assert answer.status_code != 403, "what is not yours is not there: 404"
    return "yes"


@pytest.mark.django_db
@pytest.mark.parametrize("route", ROUTES)
def test_each_role_gets_what_the_table_says(route, roles, things, make_frame):
    from django.db import transaction

    things.frames_of = make_frame
    got = {}
    for role, person in roles.items():
        with transaction.atomic():
            answer = ask(route, person, things)
            got[role] = cell(answer)
            if answer.streaming:
                list(answer)  # to its end, which closes its file
            transaction.set_rollback(True)
    assert got == expected(route)


def test_an_upload_nobody_began_is_not_there(as_person, sam):
    answer = as_person(sam).head(reverse("shootlog:upload", args=[uuid.uuid4()]), headers=TUS)
    assert answer.status_code == 404
