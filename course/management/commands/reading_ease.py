"""How easily the lessons of a course read, as a table."""

from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from course.archive import read_archive
from course.carry import as_text, files_of_folder
from course.models import Course
from course.reading_ease import measure

SHIPPED = Path(settings.BASE_DIR) / "fixtures" / "demo" / "course"


class Command(BaseCommand):
    help = "Prints words, sentences and Flesch's reading ease of every lesson and exercise."

    def add_arguments(self, parser):
        parser.add_argument("--course", type=int, help="a course of this house; ours otherwise")

    def handle(self, *, course, **options):
        if course is None:
            text = read_archive(files_of_folder(SHIPPED))
        elif found := Course.objects.filter(pk=course).first():
            text = as_text(found)
        else:
            raise CommandError(f"There is no course {course} here.")
        self.stdout.write(f"{'page':44} words  sentences  reading ease")
        for week in text.weeks:
            for page in [*week.lessons, *week.exercises]:
                told = measure(page.text)
                self.stdout.write(
                    f"{page.title[:43]:44} {told.words:5}  {told.sentences:9}  "
                    f"{told.ease:5.1f} {told.in_words}"
                )
