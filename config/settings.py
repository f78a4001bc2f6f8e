"""One file of settings; the environment decides. README.md says what each variable does."""

import contextlib
import os
import secrets
from pathlib import Path
from urllib.parse import urlsplit

from django.core.exceptions import ImproperlyConfigured

from config import database, environ, logs, mail, storage

BASE_DIR = Path(__file__).resolve().parent.parent
VERSION = "0.1.0"
TESTING = "PYTEST_VERSION" in os.environ  # pytest sets it before it reads anything of ours
DEBUG = environ.flag("WD_DEBUG")

# --- the data folder: database, files, secret. Nothing in it is served as a folder ---

DATA = Path(environ.text("WD_DATA") or BASE_DIR / "data").expanduser().resolve()
MEDIA_ROOT = DATA / "files"
ARRIVING = Path(environ.text("WD_ARRIVING") or DATA / "arriving")  # files on their way in
LARGEST_FILE_BYTES = environ.number("WD_LARGEST_FILE_MB", 512, low=1, high=4096) * 1024 * 1024
#: read again by the process that decodes (`shootlog.intake.decode`), which knows no settings
MOST_MEGAPIXELS = environ.number("WD_MOST_MEGAPIXELS", 160, low=1, high=1000)
FRAMES_PER_PERSON = environ.number("WD_FRAMES_PER_PERSON", 50_000, low=1)
SCANNER = environ.text("WD_SCANNER")  # a command; the file's path is added to it
KEPT_FREE_BYTES = 64 * 1024 * 1024  # with less room than this no file is taken in
SECRET_FILE = DATA / "secret-key"
if not TESTING:
    with contextlib.suppress(OSError):  # check config.E001 says so in words
        DATA.mkdir(mode=0o700, parents=True, exist_ok=True)


def kept_secret():
    """Return the secret of this data folder, made once and readable by its owner only.

    A folder that cannot be written gives a secret for this run alone: `read` and `check` work
    without one, and check `config.E001` speaks up before `serve` does anything.
    """
    try:
        return SECRET_FILE.read_text(encoding="ascii")
    except OSError:
        made = secrets.token_urlsafe(50)
    try:
        handle = os.open(SECRET_FILE, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(made)
    except FileExistsError:  # another process was quicker
        return SECRET_FILE.read_text(encoding="ascii") or made
    except OSError:
        pass
    return made


SECRET_KEY = "for tests only" if TESTING else environ.text("WD_SECRET_KEY") or kept_secret()
# The one before it: what it signed and sealed still opens after a change.
SECRET_KEY_FALLBACKS = list(filter(None, [environ.text("WD_SECRET_KEY_BEFORE")]))

# --- where it answers ---

PUBLIC_URL = environ.text("WD_PUBLIC_URL").rstrip("/")  # https://course.example.org
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", *environ.text("WD_HOSTS").split()]
if PUBLIC_URL:
    _public = urlsplit(PUBLIC_URL)
    if _public.scheme not in {"http", "https"} or not _public.hostname or _public.path:
        raise ImproperlyConfigured(
            f"WD_PUBLIC_URL={PUBLIC_URL!r} must be a scheme and a host: https://course.example.org"
        )
    ALLOWED_HOSTS.append(_public.hostname)
    CSRF_TRUSTED_ORIGINS = [PUBLIC_URL]
    if _public.scheme == "https":
        SECURE_SSL_REDIRECT = True
        # The house and monitors ask over plain http; a program is refused there in words
        # (`api_access`), since a redirect would hide that its token travelled in the open.
        SECURE_REDIRECT_EXEMPT = [r"^(health|ready|metrics)/$", r"^api/"]
        SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
        # the prefix makes browsers refuse a cookie that another host or plain http set
        SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-sessionid", "__Host-csrftoken"
        SECURE_HSTS_SECONDS = 365 * 24 * 3600
        SECURE_HSTS_INCLUDE_SUBDOMAINS = True
# The proxy in front, whose word on https and on the visitor's address is believed.
TRUSTED_PROXY = environ.text("WD_TRUSTED_PROXY", "127.0.0.1" if PUBLIC_URL else "")
# Preloading binds a whole domain for years; that is for its owner to decide, not for us.
SILENCED_SYSTEM_CHECKS = ["security.W021"]

X_FRAME_OPTIONS = "DENY"
SECURE_CSP = {
    "default-src": ["'none'"],
    "object-src": ["'none'"],
    "script-src": ["'self'"],
    "style-src": ["'self'"],
    "img-src": ["'self'", "blob:", "data:"],
    "font-src": ["'self'"],
    "media-src": ["'self'", "blob:"],
    "connect-src": ["'self'"],
    "worker-src": ["'self'"],
    "manifest-src": ["'self'"],
    "form-action": ["'self'"],
    "base-uri": ["'none'"],
    "frame-ancestors": ["'none'"],
}
PERMISSIONS_POLICY = "camera=(), geolocation=(), microphone=(self), payment=(), usb=()"

# --- the parts ---

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
INSTALLED_APPS = [
    "config",  # first: its commands and base.html win
    "course",
    "shootlog",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_tasks",
    "django_htmx",
    "rest_framework",
    "drf_spectacular",
]
MIDDLEWARE = [
    "config.headers.Headers",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "course.open_sessions.OpenSessions",
    "django.contrib.messages.middleware.MessageMiddleware",
    "course.signed_out.BackToThePage",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "config.faults.OnlyPressed",
]
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "config.page_frame.page_frame",
            ]
        },
    }
]

# --- where things are kept ---

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
DATABASES = {
    "default": database.from_url(environ.text("WD_DATABASE_URL"))
    if environ.text("WD_DATABASE_URL")
    else database.sqlite(DATA / "working-distance.sqlite3", testing=TESTING)
}
STORAGE_URL = environ.text("WD_STORAGE_URL")
STORAGES = {
    "default": storage.from_url(STORAGE_URL) if STORAGE_URL else storage.on_disk(MEDIA_ROOT),
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
STORAGE_PUBLIC_URL = environ.text("WD_STORAGE_PUBLIC_URL").rstrip("/")
if STORAGE_URL and STORAGE_PUBLIC_URL:  # where browsers reach the object store themselves
    STORAGES["links"] = storage.from_url(STORAGE_URL, endpoint=STORAGE_PUBLIC_URL)
STATIC_URL = "/static/"
STATIC_ROOT = DATA / "static"
DATA_UPLOAD_MAX_NUMBER_FILES = 500  # a whole stack handed in at once

# --- background work: one seam, Django's Tasks API ---

ON_POSTGRESQL = DATABASES["default"]["ENGINE"].endswith("postgresql")
TASKS_BY = environ.text("WD_TASKS") or ("procrastinate" if ON_POSTGRESQL else "table")
if TASKS_BY not in {"table", "procrastinate"}:
    raise ImproperlyConfigured(f"WD_TASKS={TASKS_BY!r} is neither 'table' nor 'procrastinate'.")
TASKS = {"default": {"BACKEND": "shootlog.lease.LeaseBackend"}}
if TASKS_BY == "procrastinate":
    if not ON_POSTGRESQL:
        raise ImproperlyConfigured(
            "WD_TASKS=procrastinate needs a PostgreSQL in WD_DATABASE_URL; leave it out."
        )
    TASKS = {"default": {"BACKEND": "shootlog.engine.EngineBackend"}}
    INSTALLED_APPS.append("procrastinate.contrib.django")
    PROCRASTINATE_AUTODISCOVER_MODULE_NAME = ""  # `shootlog.engine` has all there is
    PROCRASTINATE_IMPORT_PATHS = ["shootlog.engine"]
WORKERS = environ.number("WD_WORKERS", min(os.cpu_count() or 1, 4), low=0, high=64)

# --- people, words, time ---

LOGIN_URL = "course:sign-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "/"
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "course.password_words.HouseWords"},
]
# Instructors and assistants must have a second code before they go on: so by itself where the
# whole world can try their passwords.
SECOND_FACTOR_FOR_TEACHING = environ.flag("WD_SECOND_FACTOR", PUBLIC_URL.startswith("https://"))
KEEP_AFTER_LEAVING_DAYS = environ.number("WD_KEEP_AFTER_LEAVING_DAYS", 0, low=0)  # 0: for ever
KEEP_AUDIT_DAYS = environ.number("WD_KEEP_AUDIT_DAYS", 365, low=1)
SESSION_COOKIE_AGE = 14 * 24 * 3600  # since it was used last
LONGEST_SESSION_S = 90 * 24 * 3600  # then the password is asked for again
LANGUAGE_CODE = "en-gb"
USE_TZ = True
TIME_ZONE = environ.text("WD_TIME_ZONE", "UTC")

# --- mail: one a day and person at most, that something came back (`course.digests`) ---

SMTP_URL = environ.text("WD_SMTP_URL")
MAIL_IS_ON = bool(SMTP_URL)
MAIL_HOUR = environ.number("WD_MAIL_HOUR", 17, low=0, high=23)  # in the school's time zone
DEFAULT_FROM_EMAIL = SERVER_EMAIL = environ.text("WD_MAIL_FROM")
vars().update(mail.from_url(SMTP_URL) if MAIL_IS_ON else mail.nowhere())

REST_FRAMEWORK = {
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_AUTHENTICATION_CLASSES": ["shootlog.api_access.TokenAccess"],
    "EXCEPTION_HANDLER": "shootlog.api_refusals.refused",
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_PAGINATION_CLASS": "rest_framework.pagination.LimitOffsetPagination",
    "PAGE_SIZE": 100,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Working Distance",
    "VERSION": VERSION,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.AllowAny"],
    "SERVE_AUTHENTICATION": [],
    "ENUM_NAME_OVERRIDES": {
        "FrameState": "shootlog.models.frame.Frame.State",
        "HandInState": "course.models.hand_in.HandIn.State",
    },
}

LOGGING = logs.logging_as(
    environ.text("WD_LOG", "lines"), environ.text("WD_LOG_LEVEL", "info" if DEBUG else "warning")
)
METRICS_TOKEN = environ.text("WD_METRICS_TOKEN")  # without one, this machine alone may read them

if TESTING:
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]  # 14,000 times quicker
    # The browser tests' server knows plain names only, and nothing has been collected.
    STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    MIDDLEWARE.remove("whitenoise.middleware.WhiteNoiseMiddleware")
