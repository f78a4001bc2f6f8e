from django.conf import settings
from django.db import models


class PersonQuerySet(models.QuerySet):
    def teaching(self):
        """Those who may see what others handed in, or may start a course."""
        return self.filter(models.Q(may_teach=True) | models.Q(user__teachings__isnull=False))


class Person(models.Model):
    """What a person has beside their account: how they want the pages and the words."""

    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="person"
    )
    display_name = models.CharField(max_length=80)
    may_teach = models.BooleanField(default=False)  # may start courses of their own
    tone = models.CharField(
        max_length=8,
        default="gentle",
        choices=[("gentle", "gentler words"), ("stronger", "stronger words")],
    )
    large_type = models.BooleanField(default=False)
    paper = models.CharField(
        max_length=10,
        default="day",
        choices=[
            ("day", "day"),
            ("dark room", "dark room"),
            ("bright sun", "bright sun"),
            ("as device", "as my device"),
        ],
    )
    mail = models.BooleanField(default=True)
    mail_to = models.EmailField(blank=True)  # only an address its owner said yes to
    mail_asked_at = models.DateTimeField(null=True, blank=True)

    objects = PersonQuerySet.as_manager()

    def __str__(self):
        return self.display_name

    @property
    def wants_stronger_words(self):
        """They asked for it themselves: nothing is folded away, and whoever reviews is told."""
        return self.tone == "stronger"
