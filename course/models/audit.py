"""What happened to accounts and things that matters later: by number, without personal data."""

import logging

from django.conf import settings
from django.db import models
from django.utils import timezone

log = logging.getLogger("course.audit")

#: what may happen, and how the person it is about reads it
HAPPENINGS = {
    "first account": "The first account of this house was made.",
    "signed in": "Signed in.",
    "sign-in refused": "Somebody tried to sign in with this name; the password did not fit.",
    "code refused": "The password fitted; the second code did not.",
    "sign-in held": "Tries to sign in came too quickly and had to wait.",
    "joined": "Joined by an invitation.",
    "invited": "Made an invitation.",
    "invitation withdrawn": "Withdrew an invitation.",
    "taken out of a group": "Was taken out of a group.",
    "reset link made": "A link to choose a new password was made.",
    "password set by link": "A new password was set with a link.",
    "password changed": "The password was changed.",
    "second factor on": "The second code was switched on.",
    "second factor off": "The second code was switched off.",
    "recovery codes made": "New recovery codes were made.",
    "sessions ended": "Signed out on other devices.",
    "everything taken": "Everything was packed to take along.",
    "frame deleted": "A frame was deleted.",
    "frames forgotten": "Frames were deleted because their time to be kept was over.",
    "account deleted": "An account was deleted.",
}


class AuditLineQuerySet(models.QuerySet):
    def note(self, what, *, by=None, about=None):
        """Write one line; who it is about is the one who did it, where nothing else is said."""
        if what not in HAPPENINGS:
            raise ValueError(f"{what!r} is nothing the audit knows")
        by = by if by is not None and by.is_authenticated else None
        about = about or by
        log.info("%s by=%s about=%s", what, getattr(by, "pk", None), getattr(about, "pk", None))
        return self.create(what=what, by=by, about=about)

    def concerning(self, user):
        return self.filter(about=user).order_by("-at", "-pk")


class AuditLine(models.Model):
    """No names, no addresses, no text: an account that is deleted leaves a line about nobody."""

    at = models.DateTimeField(default=timezone.now, db_index=True)
    what = models.CharField(max_length=24, choices=[(what, what) for what in HAPPENINGS])
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    about = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    objects = AuditLineQuerySet.as_manager()

    def __str__(self):
        return self.what

    @property
    def words(self):
        return HAPPENINGS.get(self.what, self.what)

    @property
    def by_another(self):
        return self.by_id is not None and self.by_id != self.about_id
