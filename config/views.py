"""The house about itself: is it up, can it take requests, how is it doing."""

import hmac
import shutil
from datetime import timedelta

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from config import metrics, wellbeing
from shootlog import store

HERE = {"127.0.0.1", "::1"}
BACKUP_IS_OLD = timedelta(days=8)
WAITS_LONG_S = 300


@require_safe
def health(request):
    """Say that the web side and its database answer."""
    connection.ensure_connection()
    return HttpResponse("ok\n", content_type="text/plain")


@require_safe
def ready(request):
    """Say whether requests can be served: database, tables, store. 503 names what is not."""
    amiss = list(what_is_amiss())
    words = "".join(f"{words}\n" for words in amiss) or "ready\n"
    return HttpResponse(words, content_type="text/plain", status=503 if amiss else 200)


def what_is_amiss():
    try:
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            yield "the tables are not up to date"
    except DatabaseError:
        yield "the database does not answer"
    try:
        store.holds("house/is-it-there")
    except Exception:  # whatever another machine's store answers with
        yield "the store does not answer"
    if store.disk_path("x") and shutil.disk_usage(settings.DATA).free < settings.KEPT_FREE_BYTES:
        yield "the disk is full"


@require_safe
def numbers(request):
    """Metrics, for who has the token; without one, for this machine alone."""
    if not _may_read_numbers(request):
        raise Http404
    return HttpResponse(metrics.as_text(wellbeing.look()), content_type=metrics.CONTENT_TYPE)


def _may_read_numbers(request):
    token = settings.METRICS_TOKEN
    if token:
        told = request.headers.get("Authorization", "")
        return hmac.compare_digest(told.encode(), f"Bearer {token}".encode())
    # a proxy on this machine also comes from here, and says for whom it asks
    return request.META.get("REMOTE_ADDR") in HERE and "X-Forwarded-For" not in request.headers


@login_required
@require_safe
def house(request):
    """In plain words, for those who may start courses of their own here."""
    person = getattr(request.user, "person", None)
    if not (person and person.may_teach):
        raise Http404
    well = wellbeing.look()
    old = well.last_backup is None or timezone.now() - well.last_backup > BACKUP_IS_OLD
    shown = {
        "well": well,
        "read_usually_s": well.read_quantile_s(0.5),
        "waits_long": well.oldest_due_s > WAITS_LONG_S,
        "backup_is_old": old,
        "room_is_short": well.disk_free is not None and well.disk_free < 0.1 * well.disk_whole,
        "version": settings.VERSION,
    }
    return render(request, "house.html", shown)
