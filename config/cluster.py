"""A private PostgreSQL for the tests: made, used, thrown away. Nobody's own cluster is touched."""

import os
import pwd
import shutil
import subprocess
import tempfile
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

PACKAGE = "postgresql"
DEBIAN_HOME = Path("/usr/lib/postgresql")  # Debian keeps the programs out of the path
NOBODYS = "postgres"  # the user that Debian's package makes; PostgreSQL refuses to run as root


class NoCluster(Exception):
    """There is no PostgreSQL to be had here; the words say why."""


def program(name):
    """Return a program of PostgreSQL, the newest that is installed; None where there is none."""
    known = sorted(DEBIAN_HOME.glob(f"*/bin/{name}"), key=lambda path: int(path.parts[-3]))
    return str(known[-1]) if known else shutil.which(name)


def not_root():
    """Return what makes a child run as somebody else than root."""
    if os.geteuid() != 0:
        return {}
    for name in (NOBODYS, "nobody"):
        try:
            who = pwd.getpwnam(name)
        except KeyError:
            continue
        return {"user": who.pw_uid, "group": who.pw_gid, "extra_groups": []}
    raise NoCluster("PostgreSQL does not run as root, and there is no other user here.")


@contextmanager
def private_cluster(*, durable=False):
    """Give the address of a cluster that answers on a socket in a folder of its own, and nowhere
    else; it is stopped and gone afterwards. `durable` waits for the disk, as a real one does.
    """
    initdb, pg_ctl = program("initdb"), program("pg_ctl")
    if not (initdb and pg_ctl):
        raise NoCluster(f"PostgreSQL is not here; on Debian, as root: apt-get install {PACKAGE}")
    other = not_root()
    folder = Path(tempfile.mkdtemp(prefix="wd-pg-"))
    if other:
        os.chown(folder, other["user"], other["group"])

    def run(*line):
        done = subprocess.run(
            line, cwd=folder, capture_output=True, text=True, stdin=subprocess.DEVNULL, **other
        )
        if done.returncode:
            raise NoCluster(f"{Path(line[0]).name} failed: {done.stderr or done.stdout}")

    # nobody pulls the plug on a test, and nobody else can open the socket's folder
    sync = "on" if durable else "off"
    manners = f"-k {folder} -c listen_addresses= -c fsync={sync} -c max_connections=200"
    data = folder / "data"
    try:
        run(initdb, "-D", str(data), "-U", "wd", "-A", "trust", "-E", "UTF8", "--no-sync")
        # the log goes to a file: a server that kept our pipe open would never let us go on
        run(pg_ctl, "-D", str(data), "-l", str(folder / "log"), "-w", "-o", manners, "start")
        try:
            yield f"postgresql://wd@{quote(str(folder), safe='')}/postgres"
        finally:
            run(pg_ctl, "-D", str(data), "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
