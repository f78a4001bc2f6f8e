"""The cast: ines teaches, sam and noor learn, otto is enrolled in nothing."""

import pytest


@pytest.fixture
def ines(django_user_model):
    return django_user_model.objects.create_user("ines", password="ines")
