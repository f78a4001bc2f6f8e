"""Say what is in camera files: one JSON object a line. No database, no server."""

from __future__ import annotations

import hashlib
import json
import math
import tomllib
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from course.brief import Verdict, for_exercise, judge
from course.brief_file import Brief, read_brief
from course.brief_rows import BriefError
from shootlog.blur_in_words import blur_words
from shootlog.caption import caption
from shootlog.findings import examine
from shootlog.intake.cage import look_or_facts
from shootlog.set_up import SUPPORTS, SetUp, SetUpError
from shootlog.work_out import work_out

AREA_HELP = "what should be sharp, as fractions of the frame: left,top,width,height"


class Command(BaseCommand):
    help = "Read camera files and print what was going on in each, one JSON object a line."
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("files", nargs="+", metavar="FILE")
        parser.add_argument("--set-up", metavar="FILE.toml", help="what stood before the sensor")
        parser.add_argument("--subject-depth-mm", type=float, metavar="X")
        parser.add_argument("--support", choices=SUPPORTS)
        parser.add_argument("--brief", metavar="FILE.toml", help="what the exercise asks")
        parser.add_argument("--wanted", metavar="X,Y,W,H", help=AREA_HELP)

    def handle(self, *args: Any, **options: Any) -> None:
        set_up = _set_up(options["set_up"])
        brief = _brief(options["brief"])
        depth = _depth(options["subject_depth_mm"])
        told = {
            "subject_depth_mm": depth or (brief.subject_depth_mm if brief else None),
            "finished_width_mm": brief.finished_width_mm if brief else None,
            "support": options["support"],
        }
        wanted = _area(options["wanted"])
        files, unread = options["files"], 0
        for k, name in enumerate(files, 1):
            self.stderr.write(f"{k} of {len(files)}  {name}")
            answer = _answer(name, set_up, told, brief, wanted)
            unread += "error" in answer
            self.stdout.write(json.dumps(answer, ensure_ascii=False, allow_nan=False))
            self.stdout.flush()
        if unread:
            raise CommandError(f"{unread} of {len(files)} files could not be read", returncode=1)


def _answer(
    name: str, set_up: SetUp, told: dict[str, Any], brief: Brief | None, wanted: list[float] | None
) -> dict[str, Any]:
    """Return the object of one file; whatever happens inside one file, the rest still run."""
    path = Path(name)
    answer: dict[str, Any] = {"file": name}
    try:
        answer["sha256"] = _sha256(path)
        looked = look_or_facts(path.resolve(), name=path.name, wanted=wanted)
        if looked.trouble:
            answer["error"] = looked.trouble
        if looked.recorded is None:
            return {"error": f"{path.name} could not be read.", **answer}
        reading = work_out(looked.recorded, set_up, looked.evidence, **told)
        found = examine(reading, limits=brief.limits if brief else None)
        verdicts: list[Verdict] = []
        if brief is not None:
            verdicts = judge(brief.criteria, reading, found)
            found = for_exercise(found, reading, waived=brief.waived)
        recorded = looked.recorded.as_json()
        recorded.pop("body_serial", None)
        answer |= {
            "caption": caption(looked.recorded, reading),
            "blur": blur_words(reading),
            "recorded": recorded,
            "reading": reading.as_json(),
            "findings": [outcome.as_json() for outcome in found],
            "verdicts": [verdict.as_json() for verdict in verdicts],
        }
    except OSError as trouble:
        answer["error"] = (
            f"{name}: {trouble.strerror or trouble}. Check the path and send it again."
        )
    except Exception as trouble:  # noqa: BLE001 - files come from anyone
        kind = type(trouble).__name__
        answer["error"] = f"{path.name} could not be read ({kind}: {trouble}). Send the original."
    return answer


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _set_up(name: str | None) -> SetUp:
    if name is None:
        return SetUp()
    try:
        return SetUp.from_mapping(tomllib.loads(Path(name).read_text(encoding="utf-8")))
    except OSError as trouble:
        raise CommandError(f"set-up {name}: {trouble.strerror}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, SetUpError) as trouble:
        raise CommandError(f"set-up {name}: {trouble}") from None


def _brief(name: str | None) -> Brief | None:
    if name is None:
        return None
    try:
        return read_brief(Path(name))
    except OSError as trouble:
        raise CommandError(f"brief {name}: {trouble.strerror}") from None
    except BriefError as trouble:
        raise CommandError(f"brief {name}: {trouble}") from None


def _depth(value: float | None) -> float | None:
    if value is not None and not (math.isfinite(value) and 0 < value <= 1e6):
        raise CommandError(f"--subject-depth-mm {value!r} is no depth; give more than 0 mm")
    return value


def _area(text: str | None) -> list[float] | None:
    if text is None:
        return None
    try:
        area = [float(part) for part in text.split(",")]
    except ValueError:
        area = []
    fits = len(area) == 4 and all(0 <= part <= 1 for part in area)
    if not fits or area[0] + area[2] > 1 or area[1] + area[3] > 1:
        raise CommandError(f"--wanted {text!r}: give four fractions, e.g. 0.4,0.4,0.2,0.2")
    return area
