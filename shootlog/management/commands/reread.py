import sys

from django.core.management.base import BaseCommand

from shootlog.jobs import read_frame, work_out_frame
from shootlog.models import Frame, Series
from shootlog.series_job import check_series


class Command(BaseCommand):
    help = (
        "Work out every reading and flag again, after a formula or a line changed. What people "
        "said stays. Pixels are read again only with --pixels."
    )

    def add_arguments(self, parser):
        parser.add_argument(
            "--pixels", action="store_true", help="read the files again too, in the background"
        )
        parser.add_argument(
            "--owner", help="only this person's frames, by the name they sign in with"
        )

    def handle(self, pixels, owner, **options):
        frames = Frame.objects.all()
        if owner:
            frames = frames.filter(owner__username=owner)
        if pixels:
            keys = list(frames.values_list("pk", flat=True))
            for pk in keys:
                read_frame.using(priority=0).enqueue(pk)
            self.stdout.write(
                f"{len(keys)} frames will be read again by the workers, and their series after them"
            )
            return
        done = 0
        known = frames.exclude(recorded=None).select_related("set_up", "camera")
        for frame in known.iterator(chunk_size=200):
            work_out_frame(frame)
            done += 1
            if done % 100 == 0:
                print(f"{done} worked out", file=sys.stderr)
        series = Series.objects.settled().filter(confirmed=True)
        if owner:
            series = series.filter(owner__username=owner)
        looked_at = 0
        for row in series.iterator(chunk_size=50):
            check_series(row)
            looked_at += 1
        self.stdout.write(f"{done} frames worked out again, {looked_at} series looked at again")
