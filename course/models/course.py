from django.conf import settings
from django.db import models
from django.utils import timezone


class CourseQuerySet(models.QuerySet):
    def taught_by(self, user):
        """Courses this person helps to teach, as instructor or assistant."""
        return self.filter(teachings__user=user).distinct()

    def led_by(self, user):
        """Courses this person may change."""
        return self.filter(teachings__user=user, teachings__role=Teaching.INSTRUCTOR).distinct()

    def taken_by(self, user):
        return self.filter(
            groups__enrolments__user=user, groups__enrolments__left_at=None
        ).distinct()

    def visible_to(self, user):
        return self.filter(
            models.Q(teachings__user=user)
            | models.Q(groups__enrolments__user=user, groups__enrolments__left_at=None)
        ).distinct()


class Course(models.Model):
    title = models.CharField(max_length=120)
    summary = models.TextField(blank=True)
    made_at = models.DateTimeField(default=timezone.now)
    closed_at = models.DateTimeField(null=True, blank=True)
    advice_at_once = models.BooleanField(
        default=False, help_text="Students see advice at once, not only after release."
    )
    weeks_gate_findings = models.BooleanField(
        default=True, help_text="Findings wait for the week that teaches their topic."
    )
    mains_hz = models.PositiveSmallIntegerField(
        null=True, blank=True, choices=[(50, "50 Hz"), (60, "60 Hz")]
    )
    #: lines moved for this course: {"diffraction": {"limit": 6}}
    limits = models.JSONField(default=dict, blank=True)
    #: words explained, one a line: "term, another form: what it means"; see course.glossary
    glossary = models.TextField(blank=True)

    objects = CourseQuerySet.as_manager()

    def __str__(self):
        return self.title


class Teaching(models.Model):
    INSTRUCTOR = "instructor"
    ASSISTANT = "assistant"

    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="teachings")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="teachings"
    )
    role = models.CharField(
        max_length=10, choices=[(INSTRUCTOR, "instructor"), (ASSISTANT, "assistant")]
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["course", "user"], name="one_role_per_course")
        ]

    def __str__(self):
        return f"{self.user} {self.role}"
