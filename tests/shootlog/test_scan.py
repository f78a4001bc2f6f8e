"""Where the house has a scanner, nothing is kept that it did not see.

The harmless test text is the one the European Institute for Computer Antivirus Research published
for this; the scanner here is a stand-in that looks for it.
"""

import io
import logging
import sys

import pytest

from shootlog.intake.receive import NotAPicture, NotChecked, Refused, receive
from shootlog.models import Frame
from tests.frames import jpeg

pytestmark = pytest.mark.django_db
EICAR = (
    rb"X5O!P%@AP[4" + rb"\\PZX54(P^)7CC)7}$EICAR-STANDARD-ANTIVIRUS-TEST-FILE!$H+H*"
)  # in two halves, so that no scanner objects to this file
LOOK = "import sys; sys.exit(b'EICAR-STANDARD' in open(sys.argv[1], 'rb').read())"


@pytest.fixture
def scanner(settings, tmp_path):
    program = tmp_path / "scan it.py"
    program.write_text(LOOK)
    settings.SCANNER = f"{sys.executable} '{program}'"


def test_what_the_scanner_finds_is_refused_by_name_and_leaves_nothing(scanner, sam, settings):
    with pytest.raises(NotAPicture, match="a.jpg was not taken: the scanner of this house found"):
        receive(io.BytesIO(jpeg() + EICAR), owner=sam, name="a.jpg")
    assert not Frame.objects.exists()
    assert not [p for p in settings.MEDIA_ROOT.rglob("*") if p.is_file()]
    assert not [p for p in settings.ARRIVING.rglob("*") if p.is_file()]


def test_what_it_finds_clean_is_taken(scanner, sam):
    assert receive(io.BytesIO(jpeg()), owner=sam, name="a.jpg")[1]


@pytest.mark.parametrize("command", ["/there/is/no/scanner", f"{sys.executable} -c 'exit(2)'"])
def test_a_scanner_that_does_not_answer_lets_nothing_in(sam, settings, command):
    settings.SCANNER = command
    with pytest.raises(NotChecked, match="scanner does not answer") as words:
        receive(io.BytesIO(jpeg()), owner=sam, name="a.jpg")
    assert words.value.status == 503
    assert not Frame.objects.exists()


def test_a_refused_file_leaves_a_line_with_a_number_and_no_name(sam, caplog):
    with caplog.at_level(logging.WARNING), pytest.raises(Refused):
        receive(io.BytesIO(b"no picture"), owner=sam, name="Anna in the garden.jpg")
    assert f"a file was not taken (NotAPicture) by={sam.pk}" in caplog.text
    assert "Anna" not in caplog.text
