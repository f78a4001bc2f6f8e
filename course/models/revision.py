"""Every text a week, a lesson or an exercise has had: who saved it, when, and how it read."""

from django.conf import settings
from django.db import models, transaction
from django.utils import timezone

#: What is kept of each, by the names the course archive has for it.
WEEK = ("title", "aim", "demonstration", "problems", "sayings", "hidden")
LESSON = ("title", "text", "topics", "hidden")
EXERCISE = (
    *("title", "kind", "text", "subject_width_mm", "subject_depth_mm", "finished_width_mm"),
    *("in_the_field", "self_check", "hidden", "cautions", "indoor_twin", "from_a_chair"),
    *("waived", "limits"),
)
WRITTEN = {"week": WEEK, "lesson": LESSON, "exercise": EXERCISE}
CRITERION = ("kind", "quantity", "need", "low", "high", "words")


def content_of(page):
    """Everything of a week, a lesson or an exercise that a person writes, as plain values."""
    kind = page._meta.model_name
    content = {name: getattr(page, name) for name in WRITTEN[kind]}
    if kind == "exercise":
        rows = page.criteria.all()
        content["criteria"] = [{name: getattr(row, name) for name in CRITERION} for row in rows]
    return content


def _of_one_page():
    """One of the three is named, and the others are not."""
    one = models.Q()
    for kind in WRITTEN:
        one |= models.Q(**{f"{other}__isnull": other != kind for other in WRITTEN})
    return one


class RevisionQuerySet(models.QuerySet):
    def of(self, page):
        return self.filter(**{page._meta.model_name: page})

    def keep_first(self, page):
        """Before a page is changed for the first time: how it read until then."""
        if page.pk and not self.of(page).exists():
            self._add(page, None)

    @transaction.atomic
    def keep(self, page, *, by):
        """After a save: how it reads now. A save that changed nothing leaves no trace."""
        last = self.of(page).first()
        if last is None or last.content != content_of(page):
            self._add(page, by)

    def _add(self, page, by):
        self.create(**{page._meta.model_name: page}, saved_by=by, content=content_of(page))


class Revision(models.Model):
    """One state of a week, a lesson or an exercise. The newest is how it reads now."""

    week = models.ForeignKey(
        "course.Week", null=True, on_delete=models.CASCADE, related_name="revisions"
    )
    lesson = models.ForeignKey(
        "course.Lesson", null=True, on_delete=models.CASCADE, related_name="revisions"
    )
    exercise = models.ForeignKey(
        "course.Exercise", null=True, on_delete=models.CASCADE, related_name="revisions"
    )
    saved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    saved_at = models.DateTimeField(default=timezone.now)
    content = models.JSONField()

    objects = RevisionQuerySet.as_manager()

    class Meta:
        ordering = ["-saved_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=_of_one_page(), name="a_revision_is_of_one_page")
        ]

    def __str__(self):
        return f"{self.content.get('title', '')} {self.saved_at:%Y-%m-%d %H:%M}"

    @property
    def page(self):
        return self.week or self.lesson or self.exercise

    @transaction.atomic
    def bring_back(self, *, by):
        """Let the page read again as it did here; what it said meanwhile is kept, too."""
        page = self.page
        rows = self.content.get("criteria")
        for name, value in self.content.items():
            if name != "criteria":
                setattr(page, name, value)
        page.save()
        if rows is not None:
            page.criteria.all().delete()
            page.criteria.bulk_create(
                page.criteria.model(exercise=page, position=k, **row) for k, row in enumerate(rows)
            )
        Revision.objects.keep(page, by=by)
        return page
