"""What `/api/schema/` promises is held to by a program that reads it and tries to break it.

The program is Schemathesis (MIT), run against a house of its own as anyone would run it.
"""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house import BASE, environment, manage, wait_for

PORT = 8173
#: what a description cannot say: that one of two fields is needed, or that `offset=null` is read
#: as none at all
NOT_ASKED = "positive_data_acceptance,negative_data_rejection"
FURNISH = """
from course.models import Course, Enrolment, Exercise, Group, HandIn, Person, Teaching, Week
from django.contrib.auth import get_user_model
from shootlog.models import ApiToken
from tests.frames import make_frame
course = Course.objects.create(title='Small worlds')
group = Group.objects.create(course=course, name='Spring group')
week = Week.objects.create(course=course, number=1, title='Seeing small')
exercise = Exercise.objects.create(week=week, title='Ten minutes')
ines = get_user_model().objects.create_user('ines', password='ines')
Person.objects.create(user=ines, display_name='Ines', may_teach=True)
Teaching.objects.create(course=course, user=ines, role=Teaching.INSTRUCTOR)
Enrolment.objects.create(group=group, user=ines)
frame = make_frame(ines, numbers={'magnification': 1.0}, flags=['thin-depth'])
HandIn.objects.hand_in(exercise=exercise, group=group, student=ines, frames=[frame])
print(ApiToken.objects.make(ines, 'schemathesis')[1])
"""


def run(*words, env):
    line = [sys.executable, "manage.py", *words]
    return subprocess.run(line, env=env, cwd=BASE, capture_output=True, text=True, check=True)


@pytest.mark.slow
def test_no_answer_is_a_fault_or_breaks_its_own_description(tmp_path):
    program = Path(sys.executable).with_name("schemathesis")
    if not program.exists():
        pytest.skip("Schemathesis is not installed here; `manage.py test` does it")
    env = environment(tmp_path / "data")
    run("prepare", env=env)
    token = run("shell", "-v", "0", "-c", FURNISH, env=env).stdout.strip()
    with (tmp_path / "said").open("w+") as said:
        with manage("web", "--port", PORT, env=env, stdout=said, stderr=said):
            wait_for(lambda: is_up(PORT))
            line = [program, "run", f"http://127.0.0.1:{PORT}/api/schema/", "--no-color"]
            line += ["--header", f"Authorization: Token {token}", "--seed", "2026"]
            line += ["--max-examples", "200", "--checks", "all"]
            line += ["--exclude-checks", NOT_ASKED]
            done = subprocess.run(line, cwd=tmp_path, capture_output=True, text=True, timeout=1800)
        words = done.stdout[-6000:]
        assert done.returncode == 0, words
        counted = re.search(r"(\d+) generated, (\d+) passed", done.stdout)
        print(json.dumps({"cases": counted and counted[0]}))
        assert counted, words
        assert int(counted[1]) > 500
        said.seek(0)
        assert "Internal Server Error" not in said.read()


def is_up(port):
    import urllib.request

    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/health/", timeout=5) as answer:
            return answer.status == 200
    except OSError:
        return False
