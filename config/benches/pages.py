"""What pages cost in a house of 100,000 frames, against one of 1,000 (a goal of this house).

Both houses have the same course going on: one group of twelve with sixty prints to look at. The
large one has the years before it as well: past groups, their hand-ins, crits and flags, and
people with thousands of frames.
"""

import json
import os
import statistics
import subprocess
import sys
import tempfile
from datetime import timedelta

from django.conf import settings

from config import measuring
from config.benches.house import environment, manage

FRAMES = (1_000, 100_000)
PAGES = ("to-look-at", "look", "frame", "class-sheet", "projection", "this-week", "came-back")
ROUNDS = 15
WAITING = 60
GROUP = 12
FINDINGS = ("diffraction", "thin-depth", "shake", "burnt-highlights", "high-iso")


def growing():
    """Each page in the large house against the same page in the small one."""
    with tempfile.TemporaryDirectory(prefix="wd-pages-") as folder:
        houses = [House(os.path.join(folder, str(n)), n) for n in FRAMES]
        try:
            times = {page: ([], []) for page in PAGES}
            for page in [*PAGES, *PAGES * ROUNDS]:  # the first of each is not counted
                for house, took in zip(houses, times[page], strict=True):
                    took.append(house.ask(page))
        finally:
            for house in houses:
                house.end()
    ratios = {
        page: [large / small for small, large in zip(*map(_counted, both), strict=True)]
        for page, both in times.items()
    }
    worst = max(("to-look-at", "look", "frame"), key=lambda page: statistics.median(ratios[page]))
    return {
        "ratio": round(statistics.median(ratios[worst]), 3),
        "against": f"the same page in a house of {FRAMES[0]} frames; {worst} grows most",
        "n": ROUNDS,
        "spread": round(measuring.spread(ratios[worst]), 3),
        "ratios": {page: round(statistics.median(each), 2) for page, each in ratios.items()},
        "median_ms": {
            page: [round(statistics.median(_counted(each)), 1) for each in both]
            for page, both in times.items()
        },
        "processor_time": True,
    }


def _counted(times):
    return times[1:]


class House:
    """A house with so many frames, in a process of its own that answers one page at a time."""

    def __init__(self, folder, frames):
        env = environment(folder)
        manage(env, "migrate", "--verbosity", "0").wait()
        manage(env, "collectstatic", "--verbosity", "0", "--no-input").wait()
        code = f"from config.benches import pages; pages.live({frames})"
        line = [
            sys.executable,
            str(settings.BASE_DIR / "manage.py"),
            "shell",
            "-v",
            "0",
            "-c",
            code,
        ]
        self.process = subprocess.Popen(
            line, env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        assert self.process.stdout.readline() == "furnished\n"

    def ask(self, page):
        self.process.stdin.write(page + "\n")
        self.process.stdin.flush()
        return json.loads(self.process.stdout.readline())

    def end(self):
        self.process.stdin.close()
        self.process.wait()


# --- in the house's own process ---


def live(frames):
    """Furnish the house, then answer: a page's name in, processor milliseconds out."""
    from django.test import Client
    from django.test.utils import setup_test_environment

    setup_test_environment()
    addresses, people = furnish(frames)
    clients = {name: Client() for name in people}
    for name, client in clients.items():
        client.force_login(people[name])
    print("furnished", flush=True)
    for line in sys.stdin:
        who, address = addresses[line.strip()]
        began = measuring.time.process_time()
        answer = clients[who].get(address)
        answer.content  # noqa: B018 - rendered by now, and read as a browser would
        took = (measuring.time.process_time() - began) * 1000
        assert answer.status_code == 200, (address, answer.status_code)
        print(json.dumps(took), flush=True)


def furnish(frames):
    """Fill the tables; return what is where, and who asks."""
    from django.contrib.auth.models import User
    from django.db import connection
    from django.utils import timezone

    from course.models import Course, Enrolment, Exercise, Group, Person, Teaching, Week

    course = Course.objects.create(title="Small worlds")
    weeks = [Week.objects.create(course=course, number=n, title=f"Week {n}") for n in range(1, 9)]
    tasks = [Exercise.objects.create(week=w, title=f"{w} {k}") for w in weeks for k in range(3)]
    ines = User.objects.create(username="ines")
    Person.objects.create(user=ines, display_name="Ines", may_teach=True)
    Teaching.objects.create(course=course, user=ines, role="instructor")
    now = Group.objects.create(course=course, name="Now", week_now=4)
    per_person = 400 if frames > FRAMES[0] else frames // GROUP
    past = max(0, frames - GROUP * per_person) // per_person
    people = User.objects.bulk_create(User(username=f"s{k}") for k in range(GROUP + past))
    Person.objects.bulk_create(Person(user=u, display_name=u.username) for u in people)
    groups = [now] + [
        Group.objects.create(course=course, name=f"Past {k}", closed_at=timezone.now())
        for k in range(-(-past // GROUP))
    ]
    Enrolment.objects.bulk_create(
        Enrolment(user=u, group=groups[k // GROUP]) for k, u in enumerate(people)
    )
    for k, user in enumerate(people):
        _shoot(user, frames // len(people), groups[k // GROUP], tasks, ines, first=k < GROUP)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return _addresses(now, people[0]), {"ines": ines, "sam": people[0]}


def _addresses(now, sam):
    """Who asks for which page."""
    from django.urls import reverse

    from course.models import HandIn

    waiting = HandIn.objects.filter(state="waiting").first()
    back = HandIn.objects.filter(student=sam).exclude(state="waiting").last()
    shown = HandIn.objects.filter(group=now).first().first_frame
    return {
        "to-look-at": ("ines", reverse("course:to-look-at")),
        "look": ("ines", reverse("course:look", args=[waiting.pk])),
        "class-sheet": ("ines", reverse("course:class-sheet", args=[now.pk])),
        "projection": ("ines", reverse("course:projection", args=[now.pk])),
        "frame": ("sam", reverse("shootlog:frame", args=[shown.pk])),
        "this-week": ("sam", reverse("course:this-week")),
        "came-back": ("sam", reverse("course:came-back", args=[back.pk])),
    }


def _shoot(user, count, group, tasks, ines, *, first):
    """One person's frames: one in five was handed in; of the group now some still wait."""
    from django.utils import timezone

    from course.models import Crit, HandIn
    from course.models.hand_in import HandInFrame
    from shootlog.models import Flag, Frame

    began = timezone.now() - timedelta(days=7 if first else 700)
    frames = Frame.objects.bulk_create(
        [
            Frame(
                owner=user, sha256=f"{user.pk:032d}{k:032d}", size_bytes=5_000_000,
                sent_name=f"{k}.jpg", state="ready", received_at=began, read_at=began,
                taken_at=began + timedelta(minutes=k), reading=READ, recorded={"width_px": 6000,
                "height_px": 4000, "origins": {}},
            )
            for k in range(count)
        ],
        batch_size=500,
    )  # fmt: skip
    Flag.objects.bulk_create(
        (
            Flag(frame=frame, finding=FINDINGS[k % 5], sure="told", looked_at=began)
            for k, frame in enumerate(frames)
        ),
        batch_size=500,
    )
    put = frames[::5][: 16 if first else None]  # the group now has handed in the same in both
    waits = WAITING // GROUP if first else 0
    rows = HandIn.objects.bulk_create(
        [
            HandIn(
                exercise=tasks[k % len(tasks)], group=group, student=user, handed_in_at=began,
                state="kept" if k >= waits else "waiting", judged_at=timezone.now(),
                may_be_projected=k < 2, verdicts=[{"criterion": "x", "verdict": "met", "why": ""}],
            )
            for k in range(len(put))
        ]
    )  # fmt: skip
    HandInFrame.objects.bulk_create(
        HandInFrame(hand_in=row, frame=frame) for row, frame in zip(rows, put, strict=True)
    )
    Crit.objects.bulk_create(
        Crit(
            hand_in=row, author=ines, words="Held.", decision="kept", released_at=began,
            points={"main": "diffraction"},
        )
        for row in rows[waits:]
    )  # fmt: skip


READ = {
    "f_number": {"value": 22.0, "low": 22.0, "high": 22.0, "origin": "recorded"},
    "magnification": {"value": 1.0, "low": 1.0, "high": 1.0, "origin": "told"},
}

BENCHES = {"pages-as-it-grows": growing}
