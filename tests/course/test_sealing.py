"""Second codes lie sealed: the tables alone open nothing, a new secret of the house loses nothing.

The independent ones: `cryptography`'s own Fernet with a key derived by hand after RFC 5869 with
Python's hmac, and SQLite's file read as bytes.
"""

import base64
import hashlib
import hmac
import math
import time

import pyotp
import pytest
from cryptography.fernet import Fernet
from django.core.management import call_command
from django.db import connection

from config import backup, restoring, rows, upkeep
from course import sealing
from course.models import SecondFactor
from course.models.second_factor import GROUPS, IN_A_GROUP, LETTERS

SECRET = base64.b32encode(b"12345678901234567890").decode()


def hkdf_by_hand(secret, info):
    """RFC 5869, section 2, with an empty salt and one block."""
    prk = hmac.digest(bytes(32), secret.encode(), hashlib.sha256)
    return hmac.digest(prk, info + b"\x01", hashlib.sha256)


def raw_row():
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM course_secondfactor")
        return " ".join(map(str, cursor.fetchone()))


def code_now(secret=SECRET):
    return pyotp.TOTP(secret).at(int(time.time()))


@pytest.fixture
def factor(ines):
    made = SecondFactor.objects.create(user=ines, secret=SECRET)
    made.codes = made.confirm()
    return made


@pytest.mark.django_db
def test_the_row_holds_nothing_that_opens(factor):
    row = raw_row()
    assert SECRET not in row
    assert base64.b64encode(b"12345678901234567890").decode() not in row
    assert factor.takes(code_now())


@pytest.mark.django_db
def test_it_is_fernet_under_a_key_of_rfc_5869(factor, settings):
    key = hkdf_by_hand(settings.SECRET_KEY, sealing.PURPOSE)
    fernet = Fernet(base64.urlsafe_b64encode(key))
    assert fernet.decrypt(factor.sealed.encode()).decode() == SECRET
    again = SecondFactor(secret=SECRET)
    assert again.sealed != factor.sealed  # another salt each time


def test_what_was_changed_does_not_open():
    sealed = sealing.seal(SECRET)
    for at in range(0, len(sealed) - 2, 7):  # the last two may be padding
        other = "A" if sealed[at] != "A" else "B"
        with pytest.raises(sealing.CannotOpen):
            sealing.open_sealed(f"{sealed[:at]}{other}{sealed[at + 1 :]}")


def test_recovery_codes_hold_128_bits():
    assert math.log2(len(set(LETTERS))) * GROUPS * IN_A_GROUP >= 128


@pytest.mark.django_db
def test_under_another_secret_of_the_house_only_recovery_codes_open_and_it_says_so(
    client, factor, settings
):
    settings.SECRET_KEY = "another"
    client.post("/sign-in/", {"username": "ines", "password": "ines"})
    page = client.post("/sign-in/code/", {"code": code_now()}).content.decode()
    assert "has another secret than when you set your phone up" in page
    assert client.post("/sign-in/code/", {"code": factor.codes[0]}).status_code == 302
    assert client.get("/me/").status_code == 200


@pytest.mark.django_db
def test_a_new_secret_with_the_one_before_loses_no_code(factor, settings):
    settings.SECRET_KEY, before = "another", settings.SECRET_KEY
    settings.SECRET_KEY_FALLBACKS = [before]
    assert factor.takes(code_now())
    upkeep.bring_tables_up_to_date(lambda words: None)
    settings.SECRET_KEY_FALLBACKS = []  # from now on it is not needed
    factor.refresh_from_db()
    assert factor.secret == SECRET


@pytest.mark.django_db
def test_what_opens_under_no_known_secret_is_counted_and_kept(factor, settings):
    settings.SECRET_KEY = "another"
    sealed = factor.sealed
    assert SecondFactor.objects.all().seal_anew() == 1
    assert SecondFactor.objects.all().seal_anew("a third") == 1
    factor.refresh_from_db()
    assert factor.sealed == sealed


@pytest.mark.django_db(transaction=True)
def test_a_restore_under_another_secret_seals_with_ours(factor, settings, tmp_path, monkeypatch):
    settings.SECRET_FILE = tmp_path / "secret-key"
    settings.SECRET_FILE.write_text(settings.SECRET_KEY)
    call_command("backup", str(tmp_path / "house.zip"), verbosity=0)
    sealed = factor.sealed
    SecondFactor.objects.all().delete()
    settings.SECRET_KEY = "ours"
    monkeypatch.setenv("WD_SECRET_KEY", "ours")
    with backup.opened(tmp_path / "house.zip") as (archive, _):
        table = list(backup.rows_in(archive, "course.secondfactor"))
        rows.put_back(SecondFactor, table)
        said = []
        restoring.put_secret_back(archive, said.append)
        restoring.seal_under_our_secret(archive, said.append)
    factor = SecondFactor.objects.get()
    assert factor.sealed != sealed
    assert factor.secret == SECRET
    assert "secret is the environment's" in said[0]
    assert len(said) == 1
