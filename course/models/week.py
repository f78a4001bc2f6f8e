from django.db import models, transaction


class LessonQuerySet(models.QuerySet):
    def visible_to(self, user):
        """All lessons to those who teach them; to students what is not hidden."""
        taught = models.Q(week__course__teachings__user=user)
        taken = models.Q(
            hidden=False,
            week__hidden=False,
            week__course__groups__enrolments__user=user,
            week__course__groups__enrolments__left_at=None,
        )
        return self.filter(taught | taken).distinct()

    def teaching(self, topic):
        """The first lesson that teaches a topic, or None."""
        # Few lessons a person can see; JSON containment differs between databases.
        return next((lesson for lesson in self if topic in lesson.topics), None)


class Week(models.Model):
    course = models.ForeignKey("course.Course", on_delete=models.CASCADE, related_name="weeks")
    number = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=120)
    aim = models.TextField(blank=True)
    demonstration = models.TextField(blank=True)
    hidden = models.BooleanField(default=False)  # until taught

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["course", "number"], name="one_week_per_number")
        ]

    def __str__(self):
        return f"Week {self.number}: {self.title}"

    @transaction.atomic
    def move(self, *, up):
        """Swap with the neighbour; at either end nothing happens."""
        numbers = self.course.weeks.select_for_update()
        neighbour = (
            numbers.filter(number__lt=self.number).last()
            if up
            else numbers.filter(number__gt=self.number).first()
        )
        if neighbour is None:
            return
        here, there = self.number, neighbour.number
        # By way of a free number: the constraint allows no two weeks with the same one.
        free = (numbers.aggregate(models.Max("number"))["number__max"] or 0) + 1
        Week.objects.filter(pk=neighbour.pk).update(number=free)
        Week.objects.filter(pk=self.pk).update(number=there)
        Week.objects.filter(pk=neighbour.pk).update(number=here)
        self.number = there


class Lesson(models.Model):
    week = models.ForeignKey(Week, on_delete=models.CASCADE, related_name="lessons")
    title = models.CharField(max_length=120)
    text = models.TextField(blank=True)  # Markdown, cleaned when shown
    topics = models.JSONField(default=list, blank=True)  # slugs that findings wait for
    position = models.PositiveSmallIntegerField(default=0)
    hidden = models.BooleanField(default=False)

    objects = LessonQuerySet.as_manager()

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self):
        return self.title
