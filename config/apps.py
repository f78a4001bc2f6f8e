from django.apps import AppConfig


class HouseConfig(AppConfig):
    """The house itself: its commands, page frame and checks."""

    name = "config"

    def ready(self):
        from config import checks  # noqa: F401 - registers them
