"""Answer on one address, in a process of its own."""

import socket

import waitress
from django.conf import settings
from django.core.management.base import BaseCommand

from config.serving import listen
from config.wsgi import application
from shootlog import worker

# Tried with slow and with stalled uploads and no proxy in front: waitress takes a body in on its
# own loop before a thread is given to it. Its default limit of 100 connections is reached by 110
# phones that lost their wifi; poll instead of select is needed above 1,024 open files.
MANNERS = {
    "threads": 8,
    "connection_limit": 1000,
    "asyncore_use_poll": True,
    "channel_timeout": 120,
    "ident": None,
}


class Command(BaseCommand):
    help = "Serve the pages only. `serve` starts this and the workers together."

    def add_arguments(self, parser):
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--data", help="the data folder")
        parser.add_argument("--socket", type=int, help="an open socket, handed over by `serve`")
        parser.add_argument(
            "--supervised",
            action="store_true",
            help="end with the process at the other end of stdin",
        )

    def handle(self, *, host, port, supervised, **options):
        worker.stop_on_signal()
        if supervised:
            worker.end_with_parent()
        given = options["socket"]
        door = listen(host, port) if given is None else socket.socket(fileno=given)
        manners = dict(MANNERS)
        if settings.TRUSTED_PROXY:
            manners["trusted_proxy"] = settings.TRUSTED_PROXY
            manners["trusted_proxy_headers"] = {"x-forwarded-for", "x-forwarded-proto"}
        waitress.create_server(application, sockets=[door], **manners).run()
