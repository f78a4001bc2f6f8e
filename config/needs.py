"""What the tests use beside Python packages, and the Debian packages that bring it."""

import os
import shutil
import subprocess

TOOLS = {
    "chromium": "chromium",  # the browser tests
    "exiftool": "libimage-exiftool-perl",  # an independent reader of what the camera wrote
    "pdftotext": "poppler-utils",  # an independent reader of the field card as PDF
}


def install_what_is_missing(say):
    """Install missing tools from Debian where that is possible; else say what is left out."""
    missing = {tool: package for tool, package in TOOLS.items() if shutil.which(tool) is None}
    if not missing:
        return
    if not install(sorted(missing.values()), say):
        say(f"Not here: {', '.join(missing)}. Tests that need them are skipped with the reason.")


def install(packages, say):
    """Bring packages from Debian, where this is Debian and we may. Return whether they came."""
    if shutil.which("apt-get") is None or os.geteuid() != 0:
        say(f"On Debian, as root: apt-get install {' '.join(packages)}")
        return False
    say(f"Installing from Debian: {' '.join(packages)}")
    env = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    quiet = {"env": env, "stdout": subprocess.DEVNULL, "check": False}
    subprocess.run(["apt-get", "update"], **quiet)
    line = ["apt-get", "install", "--yes", "--no-install-recommends", *packages]
    came = subprocess.run(line, **quiet).returncode == 0
    if not came:
        say("Debian could not bring them.")
    return came
