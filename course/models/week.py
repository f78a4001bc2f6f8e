from django.db import models, transaction

from course.models.in_week import InWeek, open_to


class LessonQuerySet(models.QuerySet):
    def visible_to(self, user):
        """All lessons to those who teach them; to students what is not hidden until later."""
        taught = models.Q(week__course__teachings__user=user)
        return self.filter(taught | open_to(user)).distinct()

    def led_by(self, user):
        return self.filter(
            week__course__teachings__user=user, week__course__teachings__role="instructor"
        ).distinct()

    def of_week_now(self, group):
        """The lessons of a group's week."""
        return self.filter(week__course=group.course_id, week__number=group.week_now).in_place()

    def in_place(self):
        return self.order_by("position", "pk")

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
    problems = models.TextField(blank=True)  # what usually happens; Markdown, for who teaches
    sayings = models.TextField(blank=True)  # sentences to say aloud; Markdown, for who teaches
    hidden = models.BooleanField(default=False)  # until a group reaches it

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


class Lesson(InWeek):
    week = models.ForeignKey(Week, on_delete=models.CASCADE, related_name="lessons")
    title = models.CharField(max_length=120)
    text = models.TextField(blank=True)  # Markdown, cleaned when shown
    topics = models.JSONField(default=list, blank=True)  # slugs that findings wait for

    objects = LessonQuerySet.as_manager()

    class Meta(InWeek.Meta):
        pass

    def __str__(self):
        return self.title
