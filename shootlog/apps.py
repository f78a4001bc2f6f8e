from django.apps import AppConfig


class ShootlogConfig(AppConfig):
    name = "shootlog"
    default_auto_field = "django.db.models.BigAutoField"
    verbose_name = "Shoot log"

    def ready(self):
        from django.forms import FloatField

        from shootlog import jobs  # noqa: F401 - it listens for jobs that gave up
        from shootlog.plain_number import PlainNumber

        FloatField.widget = PlainNumber
