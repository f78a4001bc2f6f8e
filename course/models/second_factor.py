"""A second proof beside the password: codes of six digits by the clock (RFC 6238)."""

import hashlib
import secrets
import time

import pyotp
from django.conf import settings
from django.db import models, transaction
from django.utils import timezone

from course.sealing import CannotOpen, open_sealed, seal

STEP_S = 30  # RFC 6238, section 5.2
STEPS_OFF = 1  # a phone's clock may be one step off either way
CODES = 8
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is taken for another
GROUPS, IN_A_GROUP = 7, 4  # 28 letters of 31: 138 bits, so that a plain hash keeps them


def plain(code):
    """Return what was typed without spaces, dashes and capitals."""
    return "".join(letter for letter in code.lower() if letter.isalnum())


def sealed_anew():
    return seal(pyotp.random_base32())


class SecondFactorQuerySet(models.QuerySet):
    def on(self):
        return self.exclude(confirmed_at=None)

    def of(self, user):
        """Return the second factor of a person where it is switched on, or None."""
        return self.on().filter(user=user).first()

    def seal_anew(self, *more):
        """Seal each under today's secret; return how many open under no secret we know."""
        lost = 0
        for factor in self:
            try:
                secret = open_sealed(factor.sealed, *more)
            except CannotOpen:
                lost += 1
            else:
                # only this very one: its owner may make another meanwhile
                self.filter(pk=factor.pk, sealed=factor.sealed).update(sealed=seal(secret))
        return lost


class SecondFactor(models.Model):
    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="second_factor"
    )
    sealed = models.TextField(default=sealed_anew)
    made_at = models.DateTimeField(default=timezone.now)
    confirmed_at = models.DateTimeField(null=True, blank=True)  # off until a first code came
    last_step = models.BigIntegerField(default=0)  # a code opens once

    objects = SecondFactorQuerySet.as_manager()

    def __str__(self):
        return f"second factor of {self.user}"

    @property
    def secret(self):
        """What the phone holds as well; raises `CannotOpen`."""
        return open_sealed(self.sealed)

    @secret.setter
    def secret(self, text):
        self.sealed = seal(text)

    @property
    def opens(self):
        """Whether the house still has the secret under which this one was sealed."""
        try:
            return bool(self.secret)
        except CannotOpen:
            return False

    def begin_anew(self):
        """Another secret each time the picture is shown: one seen before switches nothing on."""
        self.sealed = sealed_anew()
        self.save(update_fields=["sealed"])

    @property
    def address(self):
        """What the picture for the phone says."""
        totp = pyotp.TOTP(self.secret)
        return totp.provisioning_uri(name=self.user.get_username(), issuer_name="Working Distance")

    def takes(self, typed):
        """Whether this code of the clock, or one of the recovery codes, is good; each once."""
        code = plain(typed)
        return self._takes_clock(code) if code.isdecimal() else self._takes_recovery(code)

    def _takes_clock(self, code):
        if not self.opens:
            return False
        now = int(time.time()) // STEP_S
        totp = pyotp.TOTP(self.secret)
        for step in range(now - STEPS_OFF, now + STEPS_OFF + 1):
            if pyotp.utils.strings_equal(totp.generate_otp(step), code):
                # one statement, so that the same code sent twice at once opens once
                newer = SecondFactor.objects.filter(pk=self.pk, last_step__lt=step)
                return bool(newer.update(last_step=step))
        return False

    def _takes_recovery(self, code):
        fresh = self.recovery_codes.filter(code_hash=_hash(code), used_at=None)
        return bool(fresh.update(used_at=timezone.now()))

    @transaction.atomic
    def confirm(self):
        """Switch it on and return the recovery codes, shown once and kept as hashes."""
        self.confirmed_at = timezone.now()
        self.save(update_fields=["confirmed_at"])
        return self.new_codes()

    @transaction.atomic
    def new_codes(self):
        self.recovery_codes.all().delete()
        made = [_new_code() for _ in range(CODES)]
        RecoveryCode.objects.bulk_create(
            RecoveryCode(factor=self, code_hash=_hash(plain(code))) for code in made
        )
        return made


class RecoveryCode(models.Model):
    """Opens once in place of the phone."""

    factor = models.ForeignKey(
        SecondFactor, on_delete=models.CASCADE, related_name="recovery_codes"
    )
    code_hash = models.CharField(max_length=64)
    used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self):
        return "a recovery code"


def _new_code():
    group = ("".join(secrets.choice(LETTERS) for _ in range(IN_A_GROUP)) for _ in range(GROUPS))
    return "-".join(group)


def _hash(code):
    return hashlib.sha256(code.encode()).hexdigest()
