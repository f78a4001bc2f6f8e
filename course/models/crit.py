from django.conf import settings
from django.db import models
from django.utils import timezone


class CritQuerySet(models.QuerySet):
    def released(self):
        return self.exclude(released_at=None)

    def written_by(self, user):
        return self.filter(author=user)


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

    def __str__(self):
        return f"crit by {self.author} on {self.hand_in}"


class Phrase(models.Model):
    """A person's own words for a finding or a verdict; numbers fill in as in the finding's own."""

    author = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="phrases"
    )
    about = models.SlugField(max_length=40)  # a finding's slug, a decision or 'any'
    words = models.TextField()
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["about", "position", "pk"]

    def __str__(self):
        return self.words[:60]
