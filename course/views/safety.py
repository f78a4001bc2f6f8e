"""A person's own account: password, where one is signed in, the second code."""

import segno
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from course.account_forms import ConfirmWithCode, NewPasswordForm, OldPassword
from course.models import AuditLine, OpenSession, Person, SecondFactor, Try
from course.views.sign_in import waiting_words

SHOWN_LINES = 20


@login_required
@never_cache
@require_safe
def safety(request):
    return render(
        request,
        "course/safety.html",
        {
            "sessions": OpenSession.objects.of(request.user),
            "this_key": request.session.session_key,
            "factor": SecondFactor.objects.of(request.user),
            "teaches": Person.objects.filter(user=request.user).teaching().exists(),
            "lines": AuditLine.objects.concerning(request.user)[:SHOWN_LINES],
        },
    )


def password_waits(request, form):
    """Count a try at the password from inside: an open browser is no place to guess either."""
    name, address = request.user.get_username().lower(), request.META.get("REMOTE_ADDR", "")
    wait_s = Try.objects.begin(name, address)
    if wait_s:
        form.is_valid()
        form.errors.clear()
        form.add_error(None, waiting_words(wait_s))
        return True
    if form.is_valid():
        Try.objects.went_well(name, address)
    return False


@login_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def change_password(request):
    form = NewPasswordForm(request.POST or None, user=request.user)
    if request.method == "POST" and not password_waits(request, form) and form.is_valid():
        request.user.set_password(form.cleaned_data["password"])
        request.user.save(update_fields=["password"])
        update_session_auth_hash(request, request.user)  # all others are signed out by the change
        AuditLine.objects.note("password changed", by=request.user)
        messages.success(request, "Your password is changed. Other devices were signed out.")
        return redirect("course:safety")
    return _form(request, form, "Change your password", "Change it")


@login_required
@require_POST
def end_session(request, pk):
    ended = OpenSession.objects.of(request.user).filter(pk=pk)
    if not ended.exists():
        raise Http404
    ended.end()
    AuditLine.objects.note("sessions ended", by=request.user)
    messages.success(request, "Signed out there.")
    return redirect("course:safety")


@login_required
@require_POST
def end_other_sessions(request):
    others = OpenSession.objects.of(request.user).exclude(session_key=request.session.session_key)
    others.end()
    AuditLine.objects.note("sessions ended", by=request.user)
    messages.success(request, "Signed out everywhere but here.")
    return redirect("course:safety")


@login_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def second_factor(request):
    """Switch the second code on: picture, first code, recovery codes."""
    if SecondFactor.objects.of(request.user):
        return redirect("course:safety")
    factor, _ = SecondFactor.objects.get_or_create(user=request.user)
    if request.method == "GET":
        factor.begin_anew()
    form = ConfirmWithCode(request.POST or None, user=request.user)
    if request.method == "POST" and not password_waits(request, form) and form.is_valid():
        if factor.takes(form.cleaned_data["code"]):
            codes = factor.confirm()
            AuditLine.objects.note("second factor on", by=request.user)
            return render(request, "course/recovery_codes.html", {"codes": codes})
        form.add_error("code", "This code does not fit. Wait for the next one, and try that.")
    picture = segno.make(factor.address, error="m").svg_inline(scale=5, border=4, light="#fff")
    return render(
        request,
        "course/second_factor.html",
        # drawn here from our own address; nothing a person typed but the name, percent-encoded
        {"form": form, "picture": mark_safe(picture), "secret": factor.secret},  # noqa: S308
    )


@login_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def new_recovery_codes(request):
    factor = _factor(request)
    form = OldPassword(request.POST or None, user=request.user)
    if request.method == "POST" and not password_waits(request, form) and form.is_valid():
        AuditLine.objects.note("recovery codes made", by=request.user)
        return render(request, "course/recovery_codes.html", {"codes": factor.new_codes()})
    return _form(request, form, "New recovery codes", "Make them; the old ones end")


@login_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def second_factor_off(request):
    factor = _factor(request)
    form = OldPassword(request.POST or None, user=request.user)
    if request.method == "POST" and not password_waits(request, form) and form.is_valid():
        factor.delete()
        AuditLine.objects.note("second factor off", by=request.user)
        messages.success(request, "Switched off. Your password alone signs you in now.")
        return redirect("course:safety")
    return _form(request, form, "Switch the second code off", "Switch it off")


def _factor(request):
    factor = SecondFactor.objects.of(request.user)
    if factor is None:
        raise Http404
    return factor


def _form(request, form, heading, act):
    context = {"form": form, "heading": heading, "act": act, "back": reverse("course:safety")}
    return render(request, "_page_form.html", context)
