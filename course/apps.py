from django.apps import AppConfig


class CourseConfig(AppConfig):
    name = "course"
    default_auto_field = "django.db.models.BigAutoField"
    verbose_name = "Course"

    def ready(self):
        """Listen for people signing in; say what a form misses in our own words."""
        from django.forms import Field

        import course.open_sessions  # noqa: F401

        Field.default_error_messages["required"] = "Please fill this in."
