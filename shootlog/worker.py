"""How a process of the house behaves: steps back for the pages, and ends when told or orphaned."""

import contextlib
import os
import signal
import sys
import threading
import time

GRACE_S = 10  # what a stopping process may take before it is ended from within


def stop_on_signal():
    """Let SIGTERM and SIGINT unwind the stack, so that a held job is put back."""

    def leave(*_):
        raise SystemExit(0)

    signal.signal(signal.SIGTERM, leave)
    signal.signal(signal.SIGINT, leave)


def end_with_parent():
    """End when the process that started this one ends, however it ended.

    Our standard input is a pipe whose other end only the parent holds; when the parent is gone,
    even by kill -9, reading it returns nothing. This works on every Unix, and needs no parent's
    help.
    """

    def watch():
        with contextlib.suppress(OSError):
            while os.read(sys.stdin.fileno(), 1):
                pass
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(GRACE_S)
        os._exit(1)

    threading.Thread(target=watch, name="parent", daemon=True).start()


def step_back():
    """Let the pages go first on the processor.

    Linux weighs whole sessions against each other before it looks at nice values, so that nice
    alone does nothing between a web process and a worker in another session; the session's own
    weight does. Only where this process leads its session: it must not slow its terminal.
    """
    with contextlib.suppress(OSError):
        os.nice(10)
    if os.getsid(0) == os.getpid():
        with contextlib.suppress(OSError), open("/proc/self/autogroup", "w") as weight:
            weight.write("19")
