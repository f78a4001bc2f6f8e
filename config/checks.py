"""Mistakes of the installation, said in words with the way out, before anybody meets them."""

import os
import shutil
from importlib.util import find_spec

from django.conf import settings
from django.core.checks import Error, Tags, Warning, register

LEAST_FREE_MB = 1000  # about sixty original frames


@register(Tags.files)
def data_folder(app_configs, **kwargs):
    """The data folder can be written, is ours alone, and has room."""
    folder = settings.DATA
    if not folder.is_dir() or not os.access(folder, os.W_OK | os.X_OK):
        yield Error(
            f"The data folder {folder} is not there or may not be written.",
            hint="Make it and give it to the user who runs this, or name another: --data DIR.",
            id="config.E001",
        )
        return
    free_mb = shutil.disk_usage(folder).free // 1_000_000
    if free_mb < LEAST_FREE_MB:
        yield Warning(
            f"Only {free_mb} MB are free where the data folder {folder} lies.",
            hint="Make room before frames come in: a full disk refuses them.",
            id="config.W001",
        )
    if os.name == "posix" and folder.stat().st_mode & 0o007:
        yield Warning(
            f"Everyone on this machine may look into the data folder {folder}.",
            hint=f"chmod o-rwx {folder}",
            id="config.W002",
        )


@register(Tags.security)
def secret(app_configs, **kwargs):
    """The secret outlives this process, or everybody is signed out at each start."""
    if settings.TESTING or "WD_SECRET_KEY" in os.environ or "WD_SECRET_KEY_FILE" in os.environ:
        return
    if not settings.SECRET_FILE.exists():
        yield Warning(
            f"The secret could not be kept in {settings.SECRET_FILE}; this one ends with the run.",
            hint="Let the data folder be written, or set WD_SECRET_KEY_FILE.",
            id="config.W003",
        )
    elif os.name == "posix" and settings.SECRET_FILE.stat().st_mode & 0o077:
        yield Error(
            f"Others on this machine may read the secret in {settings.SECRET_FILE}.",
            hint=f"chmod 600 {settings.SECRET_FILE}",
            id="config.E002",
        )


@register(Tags.security)
def public_address(app_configs, **kwargs):
    """Passwords and pictures do not travel in the open."""
    if settings.PUBLIC_URL.startswith("http://"):
        yield Warning(
            f"{settings.PUBLIC_URL} is not encrypted; passwords can be read on the way.",
            hint="Put a proxy with a certificate in front and write https:// in WD_PUBLIC_URL.",
            id="config.W004",
        )


@register(Tags.compatibility)
def mail(app_configs, **kwargs):
    """A mail needs a sender, and an address its links lead to."""
    if not settings.MAIL_IS_ON:
        return
    for name, value in [
        ("WD_MAIL_FROM", settings.DEFAULT_FROM_EMAIL),
        ("WD_PUBLIC_URL", settings.PUBLIC_URL),
    ]:
        if not value:
            yield Error(
                f"Mail is to go out by WD_SMTP_URL, but {name} is not set.",
                hint=f"Set {name}, or leave WD_SMTP_URL out: everything also stands in the app.",
                id="config.E003",
            )


@register(Tags.compatibility)
def formats(app_configs, **kwargs):
    """Say which kinds of files this installation cannot open."""
    for package, kind in [("pillow_heif", "HEIC"), ("rawpy", "RAW")]:
        if find_spec(package) is None:
            yield Warning(
                f"{kind} files cannot be opened here: {package} is not installed.",
                hint="Delete .venv and start again, or leave it so on purpose.",
                id="config.W005",
            )
