from django.db import models


class CoursePicture(models.Model):
    """A drawing of a course, shown by its lessons as ``![words](pictures/name.svg)``."""

    course = models.ForeignKey("course.Course", on_delete=models.CASCADE, related_name="pictures")
    name = models.CharField(max_length=80)  # "pictures/name.svg", as in the archive
    content = models.BinaryField()  # drawings are small; with the course they leave and come

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["course", "name"], name="one_picture_per_name")
        ]

    def __str__(self):
        return self.name

    @property
    def content_type(self):
        ending = self.name.rsplit(".", 1)[-1]
        return {"svg": "image/svg+xml", "png": "image/png"}.get(ending, "image/jpeg")
