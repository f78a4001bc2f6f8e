from django.apps import AppConfig


class CourseConfig(AppConfig):
    name = "course"
    default_auto_field = "django.db.models.BigAutoField"
    verbose_name = "Course"

    def ready(self):
        """Listen for people signing in."""
        import course.open_sessions  # noqa: F401
