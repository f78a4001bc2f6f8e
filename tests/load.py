"""People who hand in frames, all at once: a program of its own, so that it can run on any host.

`python tests/load.py TOLD.json` reads where to and how much from a file and writes one JSON line
for each frame as it is acknowledged: SHA-256, number, seconds. Who gets no answer asks again, at
the next address, with the same bytes, as a phone does. Standard library alone.
"""

import hashlib
import json
import sys
import threading
import time
import urllib.error
import urllib.request
import uuid
from http.client import HTTPException
from pathlib import Path


def another(jpeg):
    """The same picture with other bytes: a comment behind the first marker (ITU-T T.81, B.2)."""
    words = uuid.uuid4().hex.encode()
    return jpeg[:2] + b"\xff\xfe" + (len(words) + 2).to_bytes(2, "big") + words + jpeg[2:]


def form(data):
    """Return the body of a form with one file, and its kind."""
    edge = uuid.uuid4().hex
    head = (
        f'--{edge}\r\nContent-Disposition: form-data; name="file"; filename="a.jpg"\r\n'
        "Content-Type: image/jpeg\r\n\r\n"
    )
    body = b"".join([head.encode(), data, f"\r\n--{edge}--\r\n".encode()])
    return body, f"multipart/form-data; boundary={edge}"


class People:
    """`told`: urls, tokens (one a person), picture, seconds, patience_s, pause_s, stop (a file)."""

    def __init__(self, told, say):
        self.told, self.say = told, say
        self.jpeg = Path(told["picture"]).read_bytes()
        self.until = time.monotonic() + told["seconds"]
        self.troubles = 0

    def send(self, place, token):
        stop = Path(self.told.get("stop", "/nowhere"))
        while time.monotonic() < self.until and not stop.exists():
            data = another(self.jpeg)
            began = time.monotonic()
            frame, tries = self.ask(place, token, *form(data))
            if frame is None:
                return
            took = time.monotonic() - began
            assert frame["sha256"] == hashlib.sha256(data).hexdigest()
            self.say({"sha256": frame["sha256"], "id": frame["id"], "s": took, "tries": tries})
            time.sleep(self.told.get("pause_s", 0))

    def ask(self, place, token, body, kind):
        """Ask until there is an answer; nothing where the time is long over."""
        urls, tries = self.told["urls"], 0
        while time.monotonic() < self.until + 120:  # what was begun gets its answer
            url = urls[(place + tries) % len(urls)]
            request = urllib.request.Request(f"{url}/api/frames/", data=body)
            request.add_header("Authorization", f"Token {token}")
            request.add_header("Content-Type", kind)
            tries += 1
            try:
                with urllib.request.urlopen(request, timeout=self.told["patience_s"]) as answer:
                    return json.load(answer), tries
            except urllib.error.HTTPError as why:
                if why.code < 500:
                    raise
            except (OSError, ValueError, HTTPException):
                pass
            self.troubles += 1
            time.sleep(0.2)
        return None, tries


def main(told):
    lock = threading.Lock()

    def say(line):
        with lock:
            print(json.dumps(line), flush=True)

    people = People(told, say)
    threads = [
        threading.Thread(target=people.send, args=[place, token])
        for place, token in enumerate(told["tokens"])
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    say({"troubles": people.troubles})


if __name__ == "__main__":
    main(json.loads(Path(sys.argv[1]).read_text()))
