from django.db import models


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


class Lesson(models.Model):
    week = models.ForeignKey(Week, on_delete=models.CASCADE, related_name="lessons")
    title = models.CharField(max_length=120)
    text = models.TextField(blank=True)  # Markdown, cleaned when shown
    topics = models.JSONField(default=list, blank=True)  # slugs that findings wait for
    position = models.PositiveSmallIntegerField(default=0)
    hidden = models.BooleanField(default=False)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self):
        return self.title
