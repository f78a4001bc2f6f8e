from django.conf import settings
from django.db import models, transaction
from django.utils import timezone

from course.marks_shown import frame_of
from course.models.digest import Digest

#: What a page may save of a crit; decisions and releases have their own verbs.
SAID = ("words", "one_thing", "marks", "points", "voice_key", "voice_caption")


class OldPage(Exception):
    """A newer save stands already; `crit` is the row as it is now."""

    def __init__(self, crit):
        super().__init__("These words were changed on another page since this one was opened.")
        self.crit = crit


class CritQuerySet(models.QuerySet):
    def in_order(self):
        return self.order_by("made_at", "pk")

    def released(self):
        return self.exclude(released_at=None)

    def written_by(self, user):
        return self.filter(author=user)

    def said_something(self):
        """The rows that are not empty, as `Crit.is_empty` has it."""
        return self.exclude(words="", one_thing="", voice_key="", decision="", marks=[])

    def readable_by(self, user):
        """Those who review the hand-in read every crit of it, its maker the released ones."""
        teaches = models.Q(hand_in__exercise__week__course__teachings__user=user)
        released = models.Q(hand_in__student=user, released_at__isnull=False)
        return self.filter(teaches | released).distinct()

    @transaction.atomic
    def forget_marks_on(self, frame_pks):
        """Take the marks out that were made on these frames; words and other marks stay.

        The revision goes on, so that a page still open cannot bring them back.
        """
        for crit in self.exclude(marks=[]).select_for_update():
            left = [mark for mark in crit.marks if frame_of(mark) not in frame_pks]
            if left != crit.marks:
                crit.marks, crit.revision = left, crit.revision + 1
                crit.save(update_fields=["marks", "revision"])


class Crit(models.Model):
    """What one person said of a hand-in. One row per author, so two reviewers never collide."""

    hand_in = models.ForeignKey("course.HandIn", on_delete=models.CASCADE, related_name="crits")
    author = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="crits"
    )
    words = models.TextField(blank=True)
    one_thing = models.CharField(max_length=300, blank=True)  # the one thing to change
    decision = models.CharField(
        max_length=16,
        blank=True,
        choices=[
            ("kept", "kept"),
            ("reshoot asked", "reshoot asked"),
            ("talked through", "talked through"),
        ],
    )
    #: marks on the picture as W3C Web Annotations: [{"frame": id, "type": "Annotation", ...}]
    marks = models.JSONField(default=list, blank=True)
    voice_key = models.CharField(max_length=120, blank=True)
    voice_caption = models.TextField(blank=True)
    #: findings the author chose to say aloud: {"main": slug, "also": [slug]}
    points = models.JSONField(default=dict, blank=True)
    revision = models.PositiveIntegerField(default=0)  # a save from an old page is refused
    made_at = models.DateTimeField(default=timezone.now)
    changed_at = models.DateTimeField(default=timezone.now)
    released_at = models.DateTimeField(null=True, blank=True)

    objects = CritQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["hand_in", "author"], name="one_crit_per_author")
        ]
        indexes = [
            models.Index(
                fields=["author", "released_at", "decision", "hand_in"], name="written_not_released"
            )
        ]

    def __str__(self):
        return f"crit by {self.author} on {self.hand_in}"

    @property
    def is_released(self):
        return self.released_at is not None

    @property
    def is_empty(self):
        return not (self.words or self.one_thing or self.marks or self.voice_key or self.decision)

    def save_said(self, *, revision, **said):
        """Keep what was said, unless another page saved since this one was opened.

        The check and the write are one statement, so two tabs cannot both believe they won. What
        stands already word by word may come again: a line that breaks off makes a page send twice.
        """
        strange = set(said) - set(SAID)
        if strange:
            raise ValueError(f"a crit has no {strange.pop()!r} to save")
        now = {"revision": revision + 1, "changed_at": timezone.now()}
        taken = Crit.objects.filter(pk=self.pk, revision=revision).update(**said, **now)
        self.refresh_from_db()
        if not taken and any(getattr(self, key) != value for key, value in said.items()):
            raise OldPage(self)

    def release(self):
        """Let the student see it; a second release keeps the first date."""
        if self.released_at is None:
            self.released_at = timezone.now()
            with transaction.atomic():
                self.save(update_fields=["released_at"])
                Digest.objects.ask_for(self.hand_in.student)

    def take_back(self):
        self.released_at = None
        self.save(update_fields=["released_at"])


class PhraseQuerySet(models.QuerySet):
    def written_by(self, user):
        return self.filter(author=user)


class Phrase(models.Model):
    """A person's own words for a finding or a verdict; numbers fill in as in the finding's own."""

    author = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="phrases"
    )
    about = models.SlugField(max_length=40)  # a finding's slug, a decision or 'any'
    words = models.TextField()
    position = models.PositiveSmallIntegerField(default=0)

    objects = PhraseQuerySet.as_manager()

    class Meta:
        ordering = ["about", "position", "pk"]

    def __str__(self):
        return self.words[:60]
