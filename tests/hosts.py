"""Several hosts on one machine: network namespaces on a bridge of their own. Needs root on Linux.

Nothing leaves the machine: the bridge lies in a namespace too, and has no way out.
"""

import contextlib
import os
import shutil
import signal
import subprocess

NET = "10.77.0"


class NoHosts(Exception):
    """Hosts cannot be made here; the words say why."""


def ip(*words, check=True):
    done = subprocess.run(["ip", *words], capture_output=True, text=True)
    if check and done.returncode:
        raise NoHosts(f"ip {' '.join(words)}: {done.stderr.strip()}")
    return done.stdout


def why_not():
    """Say what is missing; nothing where hosts can be made."""
    if os.name != "posix" or not os.path.isdir("/proc/self/ns"):
        return "Hosts as network namespaces need Linux."
    if os.geteuid() != 0:
        return "Network namespaces are root's to make: run it with sudo, or in a container as root."
    if shutil.which("ip") is None:
        return "The program `ip` is not here; on Debian: apt-get install iproute2"
    return None


class Host:
    """One machine: an address of its own, processes of its own, a cable that can be pulled."""

    def __init__(self, net, name, number):
        self.net, self.name = net, name
        self.address = f"{NET}.{number}"
        self.space, self.port = f"{net.space}-{name}", f"p{number}"
        ip("netns", "add", self.space)
        ip("-n", net.space, "link", "add", self.port, "type", "veth", "peer", "name", "eth0",
           "netns", self.space)  # fmt: skip
        ip("-n", net.space, "link", "set", self.port, "master", "switch", "up")
        ip("-n", self.space, "addr", "add", f"{self.address}/24", "dev", "eth0")
        ip("-n", self.space, "link", "set", "eth0", "up")
        ip("-n", self.space, "link", "set", "lo", "up")

    def line(self, *words):
        return ["ip", "netns", "exec", self.space, *map(str, words)]

    def start(self, *words, **popen):
        # Not a session of its own: a worker that leads one steps back for everyone on the
        # machine, and here the machine is all hosts.
        return subprocess.Popen(self.line(*words), **popen)

    def run(self, *words, **more):
        return subprocess.run(self.line(*words), text=True, capture_output=True, **more)

    def processes(self):
        return [int(pid) for pid in ip("netns", "pids", self.space, check=False).split()]

    def kill(self):
        """End every process at once, as when the power goes."""
        while found := self.processes():
            for pid in found:
                with contextlib.suppress(ProcessLookupError):
                    os.kill(pid, signal.SIGKILL)
                with contextlib.suppress(ChildProcessError):
                    os.waitpid(pid, os.WNOHANG)

    def pull_the_cable(self):
        ip("-n", self.net.space, "link", "set", self.port, "down")

    def plug_it_in(self):
        ip("-n", self.net.space, "link", "set", self.port, "up")


class Net:
    def __init__(self):
        self.space, self.hosts = f"wd{os.getpid()}", []
        ip("netns", "add", self.space)
        ip("-n", self.space, "link", "add", "switch", "type", "bridge")
        ip("-n", self.space, "link", "set", "switch", "up")

    def host(self, name):
        made = Host(self, name, 10 + len(self.hosts))
        self.hosts.append(made)
        return made

    def end(self):
        for host in self.hosts:
            host.kill()
            ip("netns", "del", host.space, check=False)
        ip("netns", "del", self.space, check=False)


@contextlib.contextmanager
def net():
    reason = why_not()
    if reason:
        raise NoHosts(reason)
    made = Net()
    try:
        yield made
    finally:
        made.end()
