"""Sheets to print: the whole shoot of a day, and the prints of an evening."""

from datetime import date, datetime, time, timedelta

from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from course.models import Group, HandIn
from course.paper_sheets import Cell, contact_sheet_pdf, evening_pdf
from course.views.card import as_pdf
from shootlog import store
from shootlog.models import Frame

FRAMES_AT_MOST = 400  # twenty leaves; a longer day says so
PRINTS_AT_MOST = 60


@login_required
@require_safe
def contact_sheet(request, day):
    """One's own whole shoot of a day, in time order: the text twin of the paper below."""
    frames, more = _shot_on(request.user, day)
    return render(
        request, "course/contact_sheet.html", {"day": _day(day), "frames": frames, "more": more}
    )


@login_required
@require_safe
def contact_sheet_paper(request, day):
    frames, more = _shot_on(request.user, day)
    cells = [
        Cell(
            number,
            _picture(frame, "thumb.jpg"),
            (f"{timezone.localtime(frame.on_the_sheet):%H:%M:%S}", str(frame), frame.caption),
            frame.own_mark,
        )
        for number, frame in enumerate(frames, 1)
    ]
    under = f"{len(frames)} frames in the order they were taken"
    if more:
        under += f"; {more} more were taken that day"
    title = f"Contact sheet, {_day(day):%A} {_day(day).day} {_day(day):%B %Y}"
    return as_pdf(contact_sheet_pdf(title, under, cells), f"contact-sheet-{day}.pdf")


def _day(text):
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Http404(f"{text} is no day.") from None


def _shot_on(user, text):
    begins = timezone.make_aware(datetime.combine(_day(text), time()))
    that_day = Frame.objects.for_contact_sheet(user).filter(
        on_the_sheet__gte=begins, on_the_sheet__lt=begins + timedelta(days=1)
    )
    frames = list(that_day.order_by("on_the_sheet", "pk")[: FRAMES_AT_MOST + 1])
    if not frames:
        raise Http404("Nothing was shot that day.")
    more = that_day.count() - FRAMES_AT_MOST if len(frames) > FRAMES_AT_MOST else 0
    return frames[:FRAMES_AT_MOST], more


@login_required
@require_safe
def evening(request, pk):
    """The prints of an evening as a list; names stand on it only when asked for."""
    group = _group(request, pk)
    return render(
        request,
        "course/evening.html",
        {"group": group, "prints": _prints(group), "names": request.GET.get("names") == "yes"},
    )


@login_required
@require_safe
def evening_paper(request, pk):
    group = _group(request, pk)
    prints = _prints(group)
    cells = [
        Cell(number, _picture(frame, "screen.jpg"), (str(row.exercise), frame.caption))
        for number, row, frame in prints
    ]
    named = request.GET.get("names") == "yes"
    key = [f"{number}   {row.maker}: {row.exercise}" for number, row, _ in prints] if named else []
    return as_pdf(
        evening_pdf(
            f"Print evening, {group.name}", "What holds? What is one thing to try?", cells, key
        ),
        f"print-evening-{group.pk}.pdf",
    )


def _group(request, pk):
    return get_object_or_404(Group.objects.taught_by(request.user), pk=pk)


def _prints(group):
    """Numbered prints whose makers said yes, in the order of the projection."""
    rows = HandIn.objects.projectable_in(group).for_print().order_by("exercise", "handed_in_at")
    shown = [
        (row, frame)
        for row in rows[:PRINTS_AT_MOST]
        for frame in row.frames_in_order()
        if frame.is_readable
    ]
    return [(number, *both) for number, both in enumerate(shown[:PRINTS_AT_MOST], 1)]


def _picture(frame, name):
    """The derivative's bytes; None while there is none."""
    try:
        with store.store().open(f"{frame.shown_key}/{name}") as file:
            return file.read()
    except FileNotFoundError:
        return None
