"""Check a series of frames from files alone: no database, no server."""

import json
import math
import sys
import tomllib
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from shootlog.intake.proof import write_proof
from shootlog.intake.shots import WORK_PX, open_shots, reader
from shootlog.series import KINDS, check
from shootlog.series.as_given import unreadable_words
from shootlog.series.ruler_beside import MOST_FRAMES
from shootlog.series.shot import Shot, in_time_order
from shootlog.set_up import SUPPORTS, SetUp, SetUpError


class Command(BaseCommand):
    help = "Check frames that belong together: stack, apertures, light, approach, burst, landscape."
    requires_system_checks = []

    def add_arguments(self, parser):
        parser.add_argument("kind", choices=sorted(KINDS))
        parser.add_argument("files", nargs="+", metavar="FILE")
        parser.add_argument("--set-up", metavar="FILE.toml")
        parser.add_argument("--subject-depth-mm", type=float)
        parser.add_argument("--support", choices=SUPPORTS)
        parser.add_argument("--planned-step-mm", type=float)
        parser.add_argument(
            "--wanted",
            metavar="X,Y,W,H",
            help="what should be sharp, as fractions of the frame: left,top,width,height",
        )
        parser.add_argument("--factor", type=float, help="wanted growth per step of an approach")
        parser.add_argument("--directions", nargs="*", help="of the light, one a frame, in order")
        parser.add_argument("--proof", metavar="PATH", help="write a stack's proof picture here")

    def handle(self, *args, **options):
        area = self._area(options["wanted"])
        shots, unreadable = self._open(options)
        told = {
            key: options[key]
            for key in ("planned_step_mm", "subject_depth_mm", "factor", "directions")
            if options[key] is not None
        }
        if area:
            told["subject_box"] = area
        if told.get("directions"):  # one a file: those of files that can't be opened go with them
            gone = {row["place"] for row in unreadable}
            told["directions"] = [d for k, d in enumerate(told["directions"], 1) if k not in gone]
        if not shots:
            result = {"kind": options["kind"], "frames": [], "findings": [], "words": ""}
            result["error"] = "None of these files could be read."
        else:
            result = check(options["kind"], shots, told)
            if options["proof"] and options["kind"] == "stack":
                result["proof"] = write_proof(Path(options["proof"]), in_time_order(shots)[0])
        result["unreadable"] = unreadable
        said = [unreadable_words(unreadable, len(shots)), result.get("trouble", "")]
        result["trouble"] = " ".join(words for words in said if words)
        self.stdout.write(json.dumps(result, ensure_ascii=False, allow_nan=False))
        if unreadable:
            raise SystemExit(1)

    def _area(self, text):
        if text is None:
            return None
        try:
            left, top, wide, high = (float(part) for part in text.split(","))
        except ValueError:
            left = top = wide = high = math.nan
        if not (0 <= left < left + wide <= 1 and 0 <= top < top + high <= 1):
            raise CommandError(f"--wanted {text!r}: give four fractions, e.g. 0.4,0.4,0.2,0.2")
        return [left, top, wide, high]

    def _open(self, options):
        set_up = self._set_up(options["set_up"])
        depth = options["subject_depth_mm"]
        if depth is not None and not (math.isfinite(depth) and depth > 0):
            raise CommandError(f"--subject-depth-mm {depth} is no depth; give millimetres above 0")
        read = reader(set_up, subject_depth_mm=depth, support=options["support"])
        paths = [Path(file) for file in options["files"]]
        shots, unreadable = [], []
        apertures = options["kind"] == "apertures"
        finest = None if apertures else WORK_PX
        ruled = apertures and len(paths) <= MOST_FRAMES
        for k, opened in enumerate(open_shots(paths, read, finest, ruled)):
            print(f"{k + 1} of {len(paths)} {paths[k].name}", file=sys.stderr)
            if isinstance(opened, Shot):
                shots.append(opened)
            else:
                unreadable.append({"place": k + 1, "file": str(opened[0]), "error": str(opened[1])})
        return shots, unreadable

    def _set_up(self, path):
        if not path:
            return None
        try:
            return SetUp.from_mapping(tomllib.loads(Path(path).read_text("utf-8")))
        except (OSError, ValueError, SetUpError) as trouble:
            raise CommandError(f"set-up file {path}: {trouble}") from trouble
