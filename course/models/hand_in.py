from django.conf import settings
from django.db import models, transaction
from django.utils import timezone

from course.models.hand_in_query import HandInQuerySet
from course.needs import Need, reason
from shootlog.file_trouble import file_trouble_slugs
from shootlog.findings import all_findings
from shootlog.series.outcomes import TITLE as SERIES_TITLE


class HandIn(models.Model):
    """A frame or series put forward for an exercise."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting for a word"
        KEPT = "kept", "kept"
        RESHOOT = "reshoot asked", "reshoot asked"
        TALKED = "talked through", "talked through"

    exercise = models.ForeignKey(
        "course.Exercise", on_delete=models.CASCADE, related_name="hand_ins"
    )
    group = models.ForeignKey("course.Group", on_delete=models.CASCADE, related_name="hand_ins")
    student = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="hand_ins"
    )
    frames = models.ManyToManyField(
        "shootlog.Frame", through="HandInFrame", related_name="hand_ins"
    )
    series = models.ForeignKey(
        "shootlog.Series", null=True, blank=True, on_delete=models.SET_NULL, related_name="hand_ins"
    )
    wanted = models.CharField(max_length=300, blank=True)  # 'I wanted ...'
    unsure = models.CharField(max_length=300, blank=True)  # 'I'm unsure about ...'
    handed_in_at = models.DateTimeField(default=timezone.now)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    reshoot_of = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="reshoots"
    )
    welfare = models.JSONField(default=dict, blank=True)
    #: what the student saw before the app said anything: {"met": [criteria], "seen": words} or
    #: {"skipped": true}; empty where they have not looked yet
    self_checked = models.JSONField(default=dict, blank=True)
    shared_with_group = models.BooleanField(default=False)
    may_be_projected = models.BooleanField(default=False)
    #: follows the latest decision of a crit; students see it only once released
    state = models.CharField(max_length=16, choices=State.choices, default=State.WAITING)
    verdicts = models.JSONField(null=True, blank=True)
    judged_at = models.DateTimeField(null=True, blank=True)
    cannot_tell = models.BooleanField(default=False)  # a verdict waits for a person
    seen_at = models.DateTimeField(null=True, blank=True)  # a person opened it in review

    objects = HandInQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["exercise", "state"], name="to_look_at"),
            models.Index(fields=["state", "withdrawn_at"], name="waiting_for_a_word"),
        ]

    def __str__(self):
        return f"{self.student} for {self.exercise}"

    def withdraw(self):
        self.withdrawn_at = timezone.now()
        self.save(update_fields=["withdrawn_at"])

    def say_again(self, **said):
        """The same frames sent once more, twice by one press or after going back to say it better.

        What is told now stands, as long as nobody answered what was told before. Says whether it
        does; where not, it is a hand-in of its own.
        """
        new = [name for name, value in said.items() if getattr(self, name) != value]
        if new and not self.is_waiting:
            return False
        for name in new:
            setattr(self, name, said[name])
        self.save(update_fields=new)
        return True

    @property
    def maker(self):
        """What people call whoever handed this in."""
        told = getattr(self.student, "person", None)
        return told.display_name if told else self.student.get_username()

    @property
    def first_frame(self):
        places = self.places.all()
        return places[0].frame if places else None

    @property
    def reason(self):
        """Why it waits, in words; the query set's `to_look_at` says which need it is."""
        frames = self.frames_in_order()
        flags = [flag for frame in frames for flag in frame.flags.all()]
        flags += self.series.flags.all() if self.series else []
        standing = [flag for flag in flags if flag.set_aside_at is None]
        return reason(
            self.need,
            unsure=self.unsure,
            file_name=self._file_in_trouble(frames, standing),
            questions=[v["criterion"] for v in self.verdicts or [] if v["verdict"] == "can't tell"],
            findings=self._titles(standing),
        )

    def _file_in_trouble(self, frames, standing):
        about_the_file = {f.frame_id for f in standing if f.finding in file_trouble_slugs()}
        named = [f for f in frames if f.pk in about_the_file or f.state == f.State.UNREADABLE]
        return str(named[0]) if named else ""

    def _titles(self, standing):
        if self.need == Need.PLEASE_CHECK:
            standing = [flag for flag in standing if flag.sure == "likely"]
        if self.need == Need.FILE:
            standing = [flag for flag in standing if flag.finding in file_trouble_slugs()]
        slugs = dict.fromkeys(flag.finding for flag in standing)
        known = {slug: found.title.lower() for slug, found in all_findings().items()}
        known |= SERIES_TITLE
        return [known[slug] for slug in slugs if slug in known]

    @property
    def is_waiting(self):
        return self.state == self.State.WAITING

    def frames_in_order(self):
        """The frames as handed in; uses what a page prefetched."""
        return [place.frame for place in self.places.all()]

    def crit_by(self, user):
        """Return this person's crit, begun empty where there is none."""
        crit, _ = self.crits.get_or_create(author=user)
        return crit

    def crit_of(self, user):
        """The same without beginning one: looking writes nothing."""
        found = (crit for crit in self.crits.all() if crit.author_id == user.pk)
        return next(found, None) or self.crits.model(hand_in=self, author=user)

    def mark_seen(self):
        if self.seen_at is None:
            self.seen_at = timezone.now()
            self.save(update_fields=["seen_at"])

    def keep(self, *, by):
        return self._decide(self.State.KEPT, by)

    def talk_through(self, *, by):
        return self._decide(self.State.TALKED, by)

    def ask_reshoot(self, *, by, one_thing):
        """Ask for the same thing again, with one thing to change."""
        if not one_thing.strip():
            raise ValueError("A reshoot needs one thing to change.")
        return self._decide(self.State.RESHOOT, by, one_thing=one_thing.strip()[:300])

    @transaction.atomic
    def _decide(self, state, by, **said):
        crit = self.crit_by(by)
        crit.decision = state
        for key, value in said.items():
            setattr(crit, key, value)
        crit.changed_at = timezone.now()
        crit.save(update_fields=["decision", "changed_at", *said])
        self.state = state
        self.save(update_fields=["state"])
        return crit

    @transaction.atomic
    def decide_nothing(self, *, by):
        """Back among the waiting: a decision taken back with one key."""
        crit = self.crit_by(by)
        crit.decision = ""
        crit.changed_at = timezone.now()
        crit.save(update_fields=["decision", "changed_at"])
        others = self.crits.exclude(pk=crit.pk).exclude(decision="").order_by("-changed_at")
        latest = others.values_list("decision", flat=True).first()
        self.state = latest or self.State.WAITING
        self.save(update_fields=["state"])

    def release(self, *, by):
        """Let the student see this person's crit; says False where there is nothing to see yet."""
        crit = self.crit_by(by)
        if crit.is_empty:
            return False
        crit.release()
        return True

    @property
    def released_crits(self):
        """What the student may read, oldest first; uses what a page prefetched."""
        return sorted(
            (crit for crit in self.crits.all() if crit.is_released), key=lambda crit: crit.made_at
        )

    @property
    def waits_for_own_look(self):
        """The exercise asks the student's own eye first, and it has not spoken or passed yet."""
        return self.exercise.self_check and not self.self_checked and not self.released_crits

    def look_first(self, *, met=(), seen=""):
        """Keep what the student saw first; nothing at all is a skip, which is allowed."""
        said = {"met": sorted(met), "seen": seen.strip()}
        self.self_checked = said if any(said.values()) else {"skipped": True}
        self.save(update_fields=["self_checked"])

    @property
    def state_for_student(self):
        """The latest decision that was released; an unreleased one stays unseen."""
        decided = [crit.decision for crit in self.released_crits if crit.decision]
        return decided[-1] if decided else self.State.WAITING


class HandInFrame(models.Model):
    hand_in = models.ForeignKey(HandIn, on_delete=models.CASCADE, related_name="places")
    frame = models.ForeignKey(
        "shootlog.Frame", on_delete=models.CASCADE, related_name="hand_in_places"
    )
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["hand_in", "frame"], name="a_frame_once_in_a_hand_in")
        ]

    def __str__(self):
        return f"{self.hand_in} {self.position}"
