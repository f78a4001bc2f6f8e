"""Kill the web side and the workers at random moments, and count what was promised.

`python tests/kill_loop.py [KILLS [MINUTES]]` runs a house of its own in a folder of its own, on
SQLite or on the database of WD_DATABASE_URL; here every process comes back at once, while `serve`
lets one that keeps ending wait longer each time. People send frames and hand them in, an
instructor writes crits, all over HTTP; one process after another is killed with SIGKILL. At the
end every acknowledged original must be there with its SHA-256, every acknowledged crit with its
words, no frame half there, and every job ended. A job whose workers were killed three times is
given up and its frame says so; its original stands.
"""

import contextlib
import hashlib
import io
import itertools
import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
import uuid
from http.client import HTTPException
from pathlib import Path

from PIL import Image

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from config import serving  # noqa: E402
from config.serving import Child  # noqa: E402
from tests.house import BASE, environment  # noqa: E402 - run as a file as well

WORKERS = 3
MOST_ANSWERS = 30  # a process lives for a random number of answers of the house, up to this
SHORTLY_S = 0.5  # and a random moment more, so that it dies in the midst of something
SETTLES_WITHIN_S = 1200
MAKE_HOUSE = """
import json
from django.contrib.auth import get_user_model
from course.models import Course, Enrolment, Exercise, Group, Person, Teaching, Week
from shootlog.models.api_token import ApiToken
made = {}
course = Course.objects.create(title='Small worlds')
group = Group.objects.create(course=course, name='Spring group')
week = Week.objects.create(course=course, number=1, title='Seeing small')
exercise = Exercise.objects.create(week=week, title='Ten minutes')
for name in ['ines', 'sam', 'noor', 'kim']:
    user = get_user_model().objects.create_user(name, password=name)
    Person.objects.create(user=user, display_name=name, may_teach=name == 'ines')
    if name == 'ines':
        Teaching.objects.create(course=course, user=user, role=Teaching.INSTRUCTOR)
    else:
        Enrolment.objects.create(group=group, user=user)
    made[name] = ApiToken.objects.make(user, 'kill loop')[1]
print(json.dumps({'tokens': made, 'exercise': exercise.pk}))
"""
COUNT = """
import json
from course.models import Crit, HandIn
from shootlog.models import Frame, Job
print(json.dumps({
    'frames': list(Frame.objects.values_list('sha256', flat=True)),
    'states': sorted(set(Frame.objects.values_list('state', flat=True))),
    'crits': dict(Crit.objects.values_list('hand_in_id', 'words')),
    'hand_ins': list(HandIn.objects.values_list('pk', flat=True)),
    'jobs': sorted(set(Job.objects.values_list('state', flat=True))),
    'open': Job.objects.filter(state__in=['waiting', 'running']).count(),
}))
"""


class House:
    """A web side and workers, what was promised by them, and how often they were killed."""

    def __init__(self, env, door, made, out):
        self.url = f"http://127.0.0.1:{door.getsockname()[1]}"
        self.tokens, self.exercise = made["tokens"], made["exercise"]
        self.frames, self.hand_ins, self.crits = {}, [], {}
        self.troubles, self.kills, self.answers = [], {"web": 0, "worker": 0}, 0
        self.conflicts = 0
        self.done = threading.Event()
        start = [sys.executable, str(BASE / "manage.py")]
        quiet = {"env": env, "stdout": out, "stderr": out, "cwd": BASE}
        web = [*start, "web", "--supervised", "--socket", str(door.fileno())]
        self.children = [Child("web", web, pass_fds=[door.fileno()], **quiet)]
        for number in range(WORKERS):
            line = [*start, "work", "--supervised", "--name", f"worker {number}"]
            self.children.append(Child("worker", line, **quiet))
        self.due = dict.fromkeys(self.children)

    def look_after(self):
        for child in self.children:
            before = child.process
            child.back_off_s = 0.0
            child.look_after(lambda words: None)
            if child.process is not before and child.process is not None:
                self.due[child] = None
                child.lives_until = self.answers + random.randint(1, MOST_ANSWERS)

    def may_be_killed(self, child):
        """In the midst of work: something was answered since; now and then while it starts."""
        if child.process is None or child.process.poll() is not None:
            return False
        if self.due[child] is None and self.answers >= child.lives_until:
            self.due[child] = time.monotonic() + random.random() * SHORTLY_S
        while_it_starts = random.random() < 0.0002
        return while_it_starts or (self.due[child] and time.monotonic() > self.due[child])

    def stop(self):
        for child in self.children:
            child.ask_to_stop()
        for child in self.children:
            child.see_out(time.monotonic() + 60)

    def ask(self, who, path, data=None, kind="application/json"):
        """Ask until there is an answer, as a phone with a bad connection does."""
        while True:
            request = urllib.request.Request(f"{self.url}{path}", data=data)
            request.add_header("Authorization", f"Token {self.tokens[who]}")
            request.add_header("Content-Type", kind)
            try:
                with urllib.request.urlopen(request, timeout=30) as answer:
                    told = json.load(answer)
                    self.answers += 1
                    return told
            except urllib.error.HTTPError as why:
                if why.code < 500:
                    if why.code != 409:  # nobody who asks here should be refused anything
                        self.troubles.append(f"{path}: {why}")
                    raise
                words = why.read().decode(errors="replace")
                if "locked" in words:
                    self.troubles.append(words[:500])
            except (OSError, ValueError, HTTPException):  # killed while it answered
                pass
            if self.done.is_set():
                raise InterruptedError
            time.sleep(0.1)


def picture():
    out = io.BytesIO()
    grey = random.randrange(256)
    Image.new("RGB", (320, 240), (grey, 90, 60)).save(out, "JPEG", comment=uuid.uuid4().bytes)
    return out.getvalue()


def send(house, who):
    """Hand in frame after frame; what was answered is promised."""
    with contextlib.suppress(InterruptedError):
        while not house.done.is_set():
            data, edge = picture(), uuid.uuid4().hex
            body = b"".join(
                [
                    f'--{edge}\r\nContent-Disposition: form-data; name="file"; '.encode(),
                    b'filename="a.jpg"\r\nContent-Type: image/jpeg\r\n\r\n',
                    data,
                    f"\r\n--{edge}--\r\n".encode(),
                ]
            )
            kind = f"multipart/form-data; boundary={edge}"
            frame = house.ask(who, "/api/frames/", body, kind)
            house.frames[frame["sha256"]] = frame["id"]
            assert frame["sha256"] == hashlib.sha256(data).hexdigest()
            words = json.dumps({"exercise": house.exercise, "frames": [frame["id"]]}).encode()
            house.hand_ins.append(house.ask(who, "/api/hand-ins/", words)["id"])
            time.sleep(random.random())


def review(house):
    """Write crit after crit; what was answered is promised."""
    with contextlib.suppress(InterruptedError):
        for number in itertools.count():
            if house.done.is_set():
                return
            if not house.hand_ins:
                time.sleep(0.1)
                continue
            hand_in = random.choice(house.hand_ins)
            words = f"{number}: closer, and hold your breath."
            said = json.dumps({"hand_in": hand_in, "words": words}).encode()
            try:
                house.ask("ines", "/api/crits/", said)
            except urllib.error.HTTPError as why:
                if why.code != 409:  # what was asked before, and never answered, was just written
                    raise
                house.conflicts += 1
                continue
            house.crits[hand_in] = words
            time.sleep(random.random() / 10)


def kill(house, kills, until):
    """Kill one process after another, at any moment; each comes back."""
    while sum(house.kills.values()) < kills and time.monotonic() < until:
        house.look_after()
        for child in house.children:
            if house.may_be_killed(child):
                child.process.kill()
                child.process.wait()  # one that is still dying must not be counted twice
                house.kills[child.name] += 1
                print(house.kills, len(house.frames), len(house.crits), file=sys.stderr, flush=True)
        time.sleep(0.02)


def shell(env, code):
    line = [sys.executable, "manage.py", "shell", "-v", "0", "-c", code]
    done = subprocess.run(line, env=env, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def run(kills, folder, minutes=60.0, **more):
    """Return what was promised, what is there, and what of it is missing."""
    began = time.monotonic()
    env = environment(folder / "data", **more)
    subprocess.run([sys.executable, "manage.py", "migrate", "-v", "0"], env=env, check=True)
    made = shell(env, MAKE_HOUSE)
    with (folder / "said").open("w") as out, serving.listen("127.0.0.1", 0) as door:
        house = House(env, door, made, out)
        people = [threading.Thread(target=review, args=[house])]
        people += [threading.Thread(target=send, args=[house, w]) for w in ("sam", "noor", "kim")]
        try:
            for person in people:
                person.start()
            kill(house, kills, began + 60 * minutes)
            until = time.monotonic() + SETTLES_WITHIN_S
            while not house.done.is_set():  # what is being sent gets its answer
                house.look_after()
                time.sleep(0.1)
                if time.monotonic() > until - SETTLES_WITHIN_S + 15:
                    house.done.set()
            for person in people:
                person.join()
            while shell(env, COUNT)["open"] and time.monotonic() < until:
                house.look_after()
        finally:
            house.done.set()
            house.stop()
    there = shell(env, COUNT)
    line = [sys.executable, "manage.py", "verify"]
    verified = subprocess.run(line, env=env, capture_output=True, text=True, check=False)
    written = {int(pk): words for pk, words in there["crits"].items()}
    return {
        "kills": house.kills,
        "took": f"{time.monotonic() - began:.0f} s",
        "frames promised": len(house.frames),
        "hand-ins promised": len(house.hand_ins),
        "crits promised": len(house.crits),
        "frames lost": sorted(set(house.frames) - set(there["frames"])),
        "hand-ins lost": sorted(set(house.hand_ins) - set(there["hand_ins"])),
        "crits lost": sorted(k for k, words in house.crits.items() if not newer(written, k, words)),
        "states": there["states"],
        "jobs": there["jobs"],
        "old pages refused": house.conflicts,
        "troubles": house.troubles,
        "verify": verified.stdout.splitlines()[-1],
        "verify status": verified.returncode,
    }


def newer(written, hand_in, words):
    """The promised words stand, or later ones whose answer the kill swallowed."""
    found = written.get(hand_in, "")
    return found == words or (found and int(found.split(":")[0]) > int(words.split(":")[0]))


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(prefix="wd-kill-") as place:
        url = os.environ.get("WD_DATABASE_URL")
        told = run(
            int(sys.argv[1]) if len(sys.argv) > 1 else 200,
            Path(place),
            float(sys.argv[2]) if len(sys.argv) > 2 else 60.0,
            **({"WD_DATABASE_URL": url} if url else {}),
        )
        print(json.dumps(told, indent=1), flush=True)
    sys.exit(
        bool(told["frames lost"] or told["hand-ins lost"] or told["crits lost"] or told["troubles"])
    )
