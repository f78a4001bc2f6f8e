"""Meetings as iCalendar (RFC 5545). Pure: plain rows in, text out.

References: RFC 5545, sections 3.1 (folding), 3.3.5 (UTC date-times), 3.3.11 (escaping),
3.6.1 (VEVENT).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

LINE_OCTETS = 75  # RFC 5545, 3.1: longer lines are folded


@dataclass(frozen=True, kw_only=True)
class Entry:
    uid: str  # stays the same when a meeting moves
    starts_at: datetime  # aware
    ends_at: datetime
    changed_at: datetime
    title: str
    place: str = ""
    words: str = ""


def calendar_text(name: str, entries: Iterable[Entry]) -> str:
    """Return a calendar that calendar programs can open or subscribe to."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Working Distance//Meetings//EN",
        "CALSCALE:GREGORIAN",
        f"NAME:{_escaped(name)}",
    ]
    for entry in entries:
        lines += _event(entry)
    lines.append("END:VCALENDAR")
    return "".join(f"{_folded(line)}\r\n" for line in lines)


def _event(entry: Entry) -> list[str]:
    lines = [
        "BEGIN:VEVENT",
        f"UID:{_escaped(entry.uid)}",
        f"DTSTAMP:{_utc(entry.changed_at)}",
        f"DTSTART:{_utc(entry.starts_at)}",
        f"DTEND:{_utc(entry.ends_at)}",
        f"SUMMARY:{_escaped(entry.title)}",
    ]
    if entry.place:
        lines.append(f"LOCATION:{_escaped(entry.place)}")
    if entry.words:
        lines.append(f"DESCRIPTION:{_escaped(entry.words)}")
    return [*lines, "END:VEVENT"]


def _utc(moment: datetime) -> str:
    return moment.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")


def _escaped(text: str) -> str:
    plain = "".join(c for c in text.replace("\r\n", "\n") if c == "\n" or c.isprintable())
    for mark in ("\\", ";", ","):
        plain = plain.replace(mark, f"\\{mark}")
    return plain.replace("\n", "\\n")


def _folded(line: str) -> str:
    """Fold by octets, never inside a character."""
    out: list[bytes] = []
    row = b""
    for character in line:
        octets = character.encode()
        # A folded row begins with a space, which counts.
        if len(row) + len(octets) > LINE_OCTETS - (1 if out else 0):
            out.append(row)
            row = b""
        row += octets
    return b"\r\n ".join([*out, row]).decode()
