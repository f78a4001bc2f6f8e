"""My log: the contact sheet of everything shot, in time order, and files on their way in."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from shootlog.findings.stripped_file import WAYS
from shootlog.forms import MarkForm, SendForm
from shootlog.intake.receive import Refused, receive
from shootlog.models import Frame, Series
from shootlog.sheet import days

ON_A_SHEET = 60
OFFERED = 6  # at once; the next come when these are answered


@login_required
@require_safe
def log(request):
    frames = Frame.objects.for_contact_sheet(request.user)
    wanted = request.GET.get("mark", "")
    if wanted in ("keep", "maybe", "no"):
        frames = frames.filter(own_mark=wanted)
    sheet = Paginator(frames, ON_A_SHEET).get_page(request.GET.get("sheet"))
    return render(
        request,
        "shootlog/log.html",
        {
            "sheet": sheet,
            "days": days(sheet.object_list),
            "wanted": wanted,
            "offers": Series.objects.owned_by(request.user)
            .offered()
            .prefetch_related("places__frame")[:OFFERED],
            "series": Series.objects.owned_by(request.user)
            .filter(confirmed=True)
            .order_by("-made_at", "-pk")[:ON_A_SHEET],
            "ways": WAYS,
            "form": SendForm(owner=request.user, initial={"set_up": _last_set_up(request.user)}),
        },
    )


def _last_set_up(user):
    return user.set_ups.filter(retired_at=None).order_by("-last_used_at", "-pk").first()


@login_required
@require_POST
def send(request):
    """Many files in one plain form: what a browser without scripts can do."""
    form = SendForm(request.POST, request.FILES, owner=request.user)
    if not form.is_valid():
        for troubles in form.errors.values():
            messages.warning(request, troubles[0])
        return redirect("shootlog:log")
    for file in form.cleaned_data["files"]:
        try:
            _, created = receive(
                file, owner=request.user, name=file.name, set_up=form.cleaned_data["set_up"]
            )
        except Refused as words:
            messages.warning(request, str(words))
        else:
            messages.success(
                request, f"{file.name}: kept." if created else f"{file.name}: was here already."
            )
    return redirect("shootlog:log")


@login_required
@require_safe
def on_the_sheet(request, pk):
    """One print of the contact sheet, asked for again while it is being read."""
    frame = get_object_or_404(Frame.objects.for_contact_sheet(request.user), pk=pk)
    return render(request, "shootlog/_on_the_sheet.html", {"frame": frame})


@login_required
@require_POST
def mark(request, pk):
    """Keep, maybe or no: the owner's own mark; the same one again takes it away."""
    frame = get_object_or_404(Frame.objects.owned_by(request.user), pk=pk)
    before = frame.own_mark
    form = MarkForm(request.POST, instance=frame)
    if not form.is_valid():
        return HttpResponse("Marks are keep, maybe and no.", status=400)
    if form.cleaned_data["own_mark"] == before:
        frame.own_mark = ""
    frame.save(update_fields=["own_mark"])
    if request.headers.get("X-Requested-With") == "fetch":
        frame = Frame.objects.for_contact_sheet(request.user).get(pk=pk)
        return render(request, "shootlog/_on_the_sheet.html", {"frame": frame})
    sheet = request.POST.get("sheet", "")
    back = reverse("shootlog:log") + (f"?sheet={int(sheet)}" if sheet.isdecimal() else "")
    return redirect(f"{back}#frame-{pk}")
