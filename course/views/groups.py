"""Groups: the people taking a course on its dates, their invitations and meetings."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Count, Q
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from course.forms import GroupForm, InvitationForm, MeetingForm
from course.models import AuditLine, Course, Enrolment, Group, Invitation, Meeting, ResetLink
from course.models.invitation import INVITATION_LASTS, RESET_LASTS


@login_required
@require_safe
def groups(request):
    found = (
        Group.objects.taught_by(request.user)
        .select_related("course")
        .annotate(people=Count("enrolments", filter=Q(enrolments__left_at=None), distinct=True))
    )
    return render(
        request,
        "course/groups.html",
        {"groups": found, "leads": Course.objects.led_by(request.user).exists()},
    )


@login_required
@require_http_methods(["GET", "POST"])
def new_group(request):
    courses = Course.objects.led_by(request.user)
    form = GroupForm(request.POST or None, courses=courses)
    if form.is_valid():
        group = form.save()
        messages.success(request, "The group is made. Invite its people next.")
        return redirect("course:group", group.pk)
    return render(
        request,
        "_page_form.html",
        {
            "form": form,
            "heading": "A new group",
            "act": "Make the group",
            "back": reverse("course:groups"),
        },
    )


@login_required
@require_http_methods(["GET", "POST"])
def edit_group(request, pk):
    group = get_object_or_404(Group.objects.led_by(request.user), pk=pk)
    form = GroupForm(
        request.POST or None, instance=group, courses=Course.objects.led_by(request.user)
    )
    if form.is_valid():
        form.save()
        if "week_now" in form.changed_data:
            group.week_has_opened()
        messages.success(request, "Kept.")
        return redirect("course:group", pk)
    return render(
        request,
        "_page_form.html",
        {
            "form": form,
            "heading": group.name,
            "act": "Keep",
            "back": reverse("course:group", args=[pk]),
        },
    )


@login_required
@require_safe
def group(request, pk):
    found = get_object_or_404(Group.objects.taught_by(request.user).select_related("course"), pk=pk)
    leads = Group.objects.led_by(request.user).filter(pk=pk).exists()
    return render(
        request,
        "course/group.html",
        {
            "group": found,
            "leads": leads,
            "enrolments": found.enrolments.filter(left_at=None).select_related("user__person"),
            "meetings": found.meetings.select_related("week"),
            "invitations": Invitation.objects.open().filter(
                Q(group=found) | Q(group=None, course=found.course)
            ),
            "form": InvitationForm(),
            # Shown once, right after it was made; only its hash is stored.
            "fresh_link": request.session.pop("fresh_link", None),
        },
    )


@login_required
@require_POST
def invite(request, pk):
    found = get_object_or_404(Group.objects.led_by(request.user), pk=pk)
    form = InvitationForm(request.POST)
    if form.is_valid():
        role = form.cleaned_data["role"]
        _, token = Invitation.objects.make(
            lasts=INVITATION_LASTS,
            role=role,
            course=found.course,
            group=found if role == "student" else None,
            for_name=form.cleaned_data["for_name"],
            made_by=request.user,
        )
        AuditLine.objects.note("invited", by=request.user)
        link = request.build_absolute_uri(reverse("course:join", args=[token]))
        request.session["fresh_link"] = {
            "words": f"Invitation for {form.cleaned_data['for_name'] or 'one person'} ({role}), "
            "good for 14 days and one person:",
            "link": link,
        }
    else:
        messages.warning(request, "That invitation was not made: choose a role from the list.")
    return redirect("course:group", pk)


@login_required
@require_POST
def withdraw_invitation(request, pk, invitation_pk):
    found = get_object_or_404(Group.objects.led_by(request.user), pk=pk)
    invitation = get_object_or_404(
        Invitation.objects.open().filter(course=found.course), pk=invitation_pk
    )
    invitation.withdraw()
    AuditLine.objects.note("invitation withdrawn", by=request.user)
    messages.success(request, "Withdrawn. The link opens nothing any more.")
    return redirect("course:group", pk)


@login_required
@require_POST
def make_reset_link(request, pk, enrolment_pk):
    found = get_object_or_404(Group.objects.led_by(request.user), pk=pk)
    enrolment = get_object_or_404(found.enrolments.filter(left_at=None), pk=enrolment_pk)
    if not ResetLink.objects.may_be_made_for(enrolment.user):
        messages.warning(
            request,
            f"No link was made: {enrolment.user} teaches here too, and a link would open more "
            "than this group. Whoever runs the house sets it: manage.py changepassword NAME",
        )
        return redirect("course:group", pk)
    AuditLine.objects.note("reset link made", by=request.user, about=enrolment.user)
    _, token = ResetLink.objects.make(lasts=RESET_LASTS, user=enrolment.user, made_by=request.user)
    request.session["fresh_link"] = {
        "words": f"A link for {enrolment.user} to choose a new password, good for two days:",
        "link": request.build_absolute_uri(reverse("course:reset", args=[token])),
    }
    return redirect("course:group", pk)


@login_required
@require_POST
def remove_person(request, pk, enrolment_pk):
    found = get_object_or_404(Group.objects.led_by(request.user), pk=pk)
    enrolment = get_object_or_404(Enrolment.objects.filter(group=found), pk=enrolment_pk)
    enrolment.leave()
    AuditLine.objects.note("taken out of a group", by=request.user, about=enrolment.user)
    messages.success(request, f"{enrolment.user} is no longer in the group; nothing was deleted.")
    return redirect("course:group", pk)


@login_required
@require_http_methods(["GET", "POST"])
def edit_meeting(request, pk, meeting_pk=None):
    found = get_object_or_404(Group.objects.led_by(request.user), pk=pk)
    meeting = (
        get_object_or_404(found.meetings, pk=meeting_pk) if meeting_pk else Meeting(group=found)
    )
    form = MeetingForm(request.POST or None, instance=meeting)
    if form.is_valid():
        form.save()
        messages.success(request, "The meeting is kept.")
        return redirect("course:group", pk)
    return render(
        request,
        "_page_form.html",
        {
            "form": form,
            "heading": "Meeting" if meeting_pk else "A new meeting",
            "act": "Keep",
            "back": reverse("course:group", args=[pk]),
        },
    )
