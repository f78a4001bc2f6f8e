"""Mails: whose address it is, and no more of them. Both work from a mail, without signing in."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from course import digests


@csrf_exempt  # a mail program sends this one click itself (RFC 8058); the link is the proof
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def stop_mails(request, token):
    """A click ends the mails; merely opening the link, as scanners of mail do, does not."""
    person = digests.whose_mails(token)
    if person is None:
        raise Http404
    if request.method != "POST":
        return render(request, "course/stop_mails.html", {"stopped": not person.mail})
    person.mail = False
    person.save(update_fields=["mail"])
    if request.POST.get("List-Unsubscribe") == "One-Click":
        return HttpResponse("No more mails.", content_type="text/plain; charset=utf-8")
    return render(request, "course/stop_mails.html", {"stopped": True})


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def confirm_mail(request, token):
    """The link in the first mail: a press of the button says that the address is theirs."""
    if request.method != "POST":
        return render(request, "course/confirm_mail.html")
    if digests.confirm(token) is None:
        messages.warning(request, "This link is too old. Give the address once more on your page.")
    else:
        messages.success(
            request, "Thank you. You hear once a day at most, when something came back."
        )
    return redirect("course:me" if request.user.is_authenticated else "course:sign-in")
