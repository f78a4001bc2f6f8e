from datetime import datetime, time, timedelta

from django.conf import settings
from django.db import models, transaction
from django.utils import timezone

FIRST_LOOKS_BACK = timedelta(days=2)  # what the first mail to a person may still tell


class DigestQuerySet(models.QuerySet):
    def ask_for(self, user):
        """Plan a mail to this person for the next hour of mail, unless one is planned already.

        The row and its job are written with whatever became news, or not at all.
        """
        if not settings.MAIL_IS_ON or not self.model.is_wanted_by(user):
            return None
        due_at = next_hour_of_mail(timezone.now())
        with transaction.atomic():
            day = timezone.localdate(due_at)
            digest, made = self.get_or_create(user=user, day=day)
            if made:
                digest.plan(due_at)
        return digest

    def last_sent_to(self, user):
        return self.filter(user=user).exclude(sent_at=None).order_by("-sent_at").first()


class Digest(models.Model):
    """The one mail a person may get on a day: whoever has the row has the right to send it.

    `begun_at` is written before a word goes to the mail server. A worker killed after that never
    sends again, so a mail may get lost but is never there twice; what it would have told is told
    the next time, and stands in the app anyway.
    """

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="digests"
    )
    day = models.DateField()
    begun_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)

    objects = DigestQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "day"], name="one_mail_a_day_at_most")
        ]

    def __str__(self):
        return f"mail to {self.user} on {self.day}"

    @staticmethod
    def is_wanted_by(user):
        person = getattr(user, "person", None)
        return bool(user.is_active and person and person.mail and person.mail_to)

    def plan(self, due_at):
        from course.digests import send_digest  # the task imports these tables

        send_digest.using(run_after=due_at).enqueue(self.pk)

    def begin(self):
        """Take the right to send; False where it was taken before."""
        now = timezone.now()
        return bool(Digest.objects.filter(pk=self.pk, begun_at=None).update(begun_at=now))

    def done(self):
        self.sent_at = timezone.now()
        self.save(update_fields=["sent_at"])

    @property
    def since(self):
        """From when on something is news to this person."""
        last = Digest.objects.last_sent_to(self.user)
        return last.sent_at if last else timezone.now() - FIRST_LOOKS_BACK


def next_hour_of_mail(now):
    """The next moment at which mails go out, in the house's own time."""
    today = timezone.localdate(now)
    for day in (today, today + timedelta(days=1)):
        due_at = timezone.make_aware(datetime.combine(day, time(settings.MAIL_HOUR)))
        if due_at > now:
            return due_at
    raise AssertionError("a day has one hour of mail")
