"""Do background work, in a process of its own."""

import os
import socket

from django.core.management.base import BaseCommand
from django_tasks import default_task_backend

from shootlog import jobs, worker
from shootlog.models import Job


class Command(BaseCommand):
    help = "Do background work until stopped. `serve` starts as many of these as there are cores."

    def add_arguments(self, parser):
        parser.add_argument("--once", action="store_true", help="stop when no work is due")
        parser.add_argument("--name", help="what this worker is called in the table of jobs")
        parser.add_argument("--data", help="the data folder")
        parser.add_argument(
            "--supervised",
            action="store_true",
            help="end with the process at the other end of stdin",
        )

    def handle(self, *, once, name, supervised, **options):
        worker.stop_on_signal()
        worker.step_back()
        if supervised:
            worker.end_with_parent()
            Job.objects.give_back(name)  # the one of this name before us is gone
        jobs.say_what_was_given_up()
        name = name or f"{socket.gethostname()}:{os.getpid()}"
        default_task_backend.attend(name, once=once)
