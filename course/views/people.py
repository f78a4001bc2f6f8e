"""Who one is here: first run, signing in and out, joining, resets, own page, fellow people."""

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.db import transaction
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from course.digests import ask_whose
from course.first_key import opens
from course.forms import MeForm, NewPersonForm, PasswordMixin
from course.models import AuditLine, Course, Enrolment, Group, Invitation, Person, ResetLink


@require_safe
def home(request):
    """Lead each person to the place where their day begins."""
    if not request.user.is_authenticated:
        return redirect("course:sign-in" if User.objects.exists() else "course:first-run")
    teaches = Course.objects.taught_by(request.user).exists()
    may_teach = Person.objects.filter(user=request.user, may_teach=True).exists()
    if teaches:
        return redirect("course:to-look-at")
    return redirect("course:courses" if may_teach else "course:this-week")


@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def first_run(request):
    """The first account of an empty house. Gone as soon as anyone lives here."""
    if User.objects.exists():
        raise Http404
    if not opens(request):
        return render(request, "course/first_key.html", status=403)
    form = NewPersonForm(request.POST or None)
    if form.is_valid():
        with transaction.atomic():
            if User.objects.exists():  # somebody else was quicker
                raise Http404
            user = form.save(may_teach=True)
        login(request, user)
        AuditLine.objects.note("first account", by=user)
        messages.success(request, "Welcome. Begin with a course of your own, or load ours.")
        return redirect("course:courses")
    return render(request, "course/first_run.html", {"form": form})


@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def join(request, token):
    """Take an invitation, with a new account or the one signed in."""
    invitation = get_object_or_404(Invitation.objects.open_for(token))
    signed_in = request.user.is_authenticated
    form = None if signed_in else NewPersonForm(request.POST or None)
    if request.method == "POST" and (signed_in or form.is_valid()):
        with transaction.atomic():
            # Locked and looked at again: one link lets one person in, even if sent twice at once.
            invitation = get_object_or_404(Invitation.objects.select_for_update().open_for(token))
            user = request.user if signed_in else form.save()
            invitation.take(user)
            AuditLine.objects.note("joined", by=user)
        if not signed_in:
            login(request, user)
        messages.success(request, f"Welcome to {invitation.group or invitation.course}.")
        return redirect("course:home")
    return render(request, "course/join.html", {"form": form, "invitation": invitation})


@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def reset(request, token):
    """Choose a new password with a link that an instructor made."""
    link = get_object_or_404(ResetLink.objects.open_for(token))
    form = PasswordMixin(request.POST or None)
    if form.is_valid():
        link.use(form.cleaned_data["password"])
        AuditLine.objects.note("password set by link", by=link.made_by, about=link.user)
        messages.success(request, "Your new password is set. Sign in with it.")
        return redirect("course:sign-in")
    return render(
        request,
        "_page_form.html",
        {"form": form, "heading": "Choose a new password", "act": "Set the password"},
    )


@login_required
@require_http_methods(["GET", "POST"])
def me(request):
    person, _ = Person.objects.get_or_create(
        user=request.user, defaults={"display_name": request.user.get_username()}
    )
    form = MeForm(request.POST or None, instance=person)
    if form.is_valid():
        form.save()
        if form.new_address:
            ask_whose(person, form.new_address)
            words = "Kept. A mail with a link went to {}: open it, and mails come there."
            messages.success(request, words.format(form.new_address))
        else:
            messages.success(request, "Kept.")
        return redirect("course:me")
    return render(request, "course/me.html", {"form": form})


@login_required
@require_safe
def people(request):
    """The people of one's groups; names only."""
    groups = (
        Group.objects.visible_to(request.user)
        .select_related("course")
        .prefetch_related("enrolments__user__person", "course__teachings__user__person")
    )
    return render(request, "course/people.html", {"groups": groups})


@login_required
@require_http_methods(["POST"])
def leave_group(request, pk):
    enrolment = get_object_or_404(Enrolment, user=request.user, group_id=pk, left_at=None)
    enrolment.leave()
    messages.success(request, "You have left the group. Your frames stay yours.")
    return redirect("course:people")
