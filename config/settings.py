"""One file of settings; the environment decides. What each variable does is in README.md."""

import os
from pathlib import Path

from config import environ

BASE_DIR = Path(__file__).resolve().parent.parent
TESTING = "PYTEST_VERSION" in os.environ
DEBUG = environ.flag("WD_DEBUG")

DATA = Path(environ.text("WD_DATA") or BASE_DIR / "data").expanduser().resolve()
MEDIA_ROOT = DATA / "media"  # private: never served as a folder

SECRET_KEY = "not-yet"  # noqa: S105
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", "testserver"]

INSTALLED_APPS = [
    "config",
    "course",
    "shootlog",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_tasks",
    "django_htmx",
    "rest_framework",
    "drf_spectacular",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]
ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ]
        },
    }
]
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
DATABASES = {
    "default": {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": DATA / "working-distance.sqlite3",
        "OPTIONS": {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;",
        },
    }
}
DATA.mkdir(parents=True, exist_ok=True)

LOGIN_URL = "/sign-in/"
LOGIN_REDIRECT_URL = "/"
TIME_ZONE = environ.text("WD_TIME_ZONE", "UTC")
USE_TZ = True
STATIC_URL = "/static/"
STATIC_ROOT = DATA / "static"

REST_FRAMEWORK = {"DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema"}
TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}

if TESTING:
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    MIDDLEWARE.remove("whitenoise.middleware.WhiteNoiseMiddleware")
