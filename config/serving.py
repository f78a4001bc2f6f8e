"""Web and workers as children of one process, which restarts what fails and stops all."""

import contextlib
import errno
import os
import secrets
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from urllib.error import URLError

from django.conf import settings
from django.core.management.base import CommandError

BACK_OFF_S = 2.0  # before a child that ended is started again; doubled while it keeps ending
LONGEST_BACK_OFF_S = 30.0
STEADY_S = 60.0  # a child that ran this long has its back-off forgiven
STOPPING_S = 15.0
LOOK_S = 0.2


def listen(host, port):
    """Open the port before anything else is done, so that a taken one is known at once."""
    try:
        kind = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        door = socket.socket(kind[0], kind[1])
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        door.bind(kind[4])
        door.listen(1024)
    except OverflowError:
        raise CommandError(f"{port} is no port. Ports go from 1 to 65535.") from None
    except OSError as why:
        raise CommandError(why_not(why, host, port)) from None
    return door


def why_not(why, host, port):
    if why.errno == errno.EADDRINUSE:
        return (
            f"Port {port} on {host} is taken, perhaps by another start of this. "
            f"Stop that one, or choose another port: --port {port + 1}"
        )
    if why.errno in {errno.EACCES, errno.EPERM}:
        return f"Port {port} is reserved for the system. Choose one above 1023: --port 8000"
    return f"{host}:{port} is no address of this machine ({why.strerror or why})."


def addresses(host, port):
    """Where people can reach it: the address asked for, or every one of this machine's own."""
    if host in {"0.0.0.0", "::"}:  # noqa: S104
        return [f"http://{name}:{port}/" for name in ["localhost", *own_names()]]
    return [f"http://{f'[{host}]' if ':' in host else host}:{port}/"]


def own_names():
    """Name this machine's host name and its address on the local network."""
    names = [socket.gethostname()]
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # sends nothing; asks which address would be used
        names.append(probe.getsockname()[0])
    return names


class Child:
    """One process that is to be there all the time."""

    def __init__(self, name, line, **popen):
        self.name, self.line, self.popen = name, line, popen
        self.process = None
        self.back_off_s = BACK_OFF_S
        self.due_at = self.started_at = 0.0

    def start(self):
        # A session of its own: Ctrl-C then reaches the parent alone, and a worker's weight
        # is its own. The pipe is how the child learns that the parent is gone.
        self.process = subprocess.Popen(
            self.line, stdin=subprocess.PIPE, start_new_session=True, **self.popen
        )
        self.started_at = time.monotonic()

    def look_after(self, say):
        now = time.monotonic()
        if self.process is None:
            if now >= self.due_at:
                self.start()
            return
        code = self.process.poll()
        if code is None:
            return
        self.process.stdin.close()
        self.process = None
        if now - self.started_at > STEADY_S:
            self.back_off_s = BACK_OFF_S
        say(f"{self.name} ended ({code}); starting it again in {self.back_off_s:g} s.")
        self.due_at = now + self.back_off_s
        self.back_off_s = min(self.back_off_s * 2, LONGEST_BACK_OFF_S)

    def ask_to_stop(self):
        if self.process:
            self.process.terminate()

    def see_out(self, until):
        if self.process is None:
            return
        try:
            self.process.wait(max(0.0, until - time.monotonic()))
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.process.stdin.close()


class Stop(Exception):  # noqa: N818 - nothing went wrong
    """Somebody asked the house to stop."""


class House:
    def __init__(self, door, *, hosts=(), workers=None):
        env = os.environ | {"PYTHONUNBUFFERED": "1", "WD_DATA": str(settings.DATA)}
        if hosts:
            env["WD_HOSTS"] = " ".join([os.environ.get("WD_HOSTS", ""), *hosts]).strip()
        manage = [sys.executable, str(settings.BASE_DIR / "manage.py")]
        run = secrets.token_hex(3)  # two houses on one database must not share worker names
        web = [*manage, "web", "--supervised", "--socket", str(door.fileno())]
        self.children = [Child("The web side", web, env=env, pass_fds=[door.fileno()])]
        for place in range(1, (settings.WORKERS if workers is None else workers) + 1):
            name = f"{socket.gethostname()}:{run}:{place}"
            line = [*manage, "work", "--supervised", "--name", name]
            self.children.append(Child(f"Worker {place}", line, env=env))

    def run(self, say, when_ready):
        """Keep all children going until asked to stop."""
        for number in [signal.SIGINT, signal.SIGTERM, signal.SIGHUP]:
            signal.signal(number, self.stop)
        try:
            ready = False
            while True:
                for child in self.children:
                    child.look_after(say)
                ready = ready or when_ready()
                time.sleep(LOOK_S)
        except Stop:
            say("Stopping.")
        finally:
            self.end()

    def stop(self, *_):
        for number in [signal.SIGINT, signal.SIGTERM, signal.SIGHUP]:
            signal.signal(number, signal.SIG_IGN)  # once is enough; all will end
        raise Stop

    def end(self):
        for child in self.children:
            child.ask_to_stop()
        until = time.monotonic() + STOPPING_S
        for child in self.children:
            child.see_out(until)


def answers(port, host="127.0.0.1"):
    """Whether the web side says that it is well."""
    address = f"http://{f'[{host}]' if ':' in host else host}:{port}/health/"
    request = urllib.request.Request(address, headers={"Host": "localhost"})  # noqa: S310
    try:
        with urllib.request.urlopen(request, timeout=2) as answer:  # noqa: S310
            return answer.status == 200
    except (URLError, OSError):
        return False
