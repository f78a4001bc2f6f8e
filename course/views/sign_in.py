"""Signing in: a name, a password, and the second code where somebody switched it on."""

import time

from django import forms
from django.contrib.auth import get_user_model, login
from django.contrib.auth import views as auth_views
from django.contrib.auth.forms import AuthenticationForm, UsernameField
from django.shortcuts import redirect, render
from django.utils.decorators import method_decorator
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from course.account_forms import CodeForm
from course.models import AuditLine, SecondFactor, Try

PROVED = "password_proved"  # in the session between password and code
PROVED_FOR_S = 300
DOES_NOT_FIT = (
    "This code does not fit, or it was used before. Wait for the next one, check the phone's "
    "clock, or use one of your recovery codes."
)
NO_CODE_FITS = (
    "This house has another secret than when you set your phone up, so no code of the phone fits "
    "any more. Use one of your recovery codes, or ask whoever runs the house."
)
BACKEND = "django.contrib.auth.backends.ModelBackend"


def waiting_words(seconds):
    how_long = f"{seconds} seconds" if seconds < 90 else f"{-(-seconds // 60)} minutes"
    return (
        f"There were many tries with this name, or from this address. Wait {how_long}, then try "
        "again; this one was not looked at. Forgot the password? Ask your instructor for a link."
    )


class SlowSignIn(AuthenticationForm):
    """Asks the door's counters before it looks at a password."""

    username = UsernameField(
        label="Name to sign in with", widget=forms.TextInput(attrs={"autofocus": True})
    )
    error_messages = AuthenticationForm.error_messages | {
        "invalid_login": "Name and password do not fit together. Capitals count in both. "
        "Forgot it? Ask your instructor for a link to choose a new one."
    }
    wait_s = 0

    def clean(self):
        name = (self.cleaned_data.get("username") or "").strip().lower()
        address = self.request.META.get("REMOTE_ADDR", "")
        self.wait_s = Try.objects.begin(name, address)
        if self.wait_s:
            note_about(name, "sign-in held")
            self.add_error(None, waiting_words(self.wait_s))
            return self.cleaned_data
        try:
            cleaned = super().clean()
        except Exception:
            note_about(name, "sign-in refused")
            raise
        Try.objects.went_well(name, address)
        return cleaned


def note_about(name, what):
    user = get_user_model().objects.filter(username__iexact=name).first()
    AuditLine.objects.note(what, about=user)


@method_decorator(sensitive_post_parameters(), name="dispatch")
@method_decorator(never_cache, name="dispatch")
class SignIn(auth_views.LoginView):
    template_name = "course/sign_in.html"
    authentication_form = SlowSignIn
    redirect_authenticated_user = True

    def form_valid(self, form):
        user = form.get_user()
        if SecondFactor.objects.of(user) is None:
            AuditLine.objects.note("signed in", by=user)
            return super().form_valid(form)
        self.request.session.cycle_key()
        self.request.session[PROVED] = [user.pk, time.time(), self.get_redirect_url()]
        return redirect("course:sign-in-code")

    def form_invalid(self, form):
        status = 429 if form.wait_s else 200
        answer = self.render_to_response(self.get_context_data(form=form), status=status)
        if form.wait_s:
            answer["Retry-After"] = str(form.wait_s)
        return answer


sign_in = SignIn.as_view()


@require_http_methods(["POST"])
def sign_out(request):
    """Sign out, and ask the browser to forget the pictures it kept."""
    answer = auth_views.LogoutView.as_view(next_page="/")(request)
    answer["Clear-Site-Data"] = '"cache"'
    return answer


@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def sign_in_code(request):
    """The second half of signing in; without the first it leads back there."""
    user, next_page = _proved(request)
    if user is None:
        return redirect("course:sign-in")
    form = CodeForm(request.POST or None)
    status = 200
    if form.is_valid():
        if wait_s := _code_waits(request, user):
            form.add_error("code", waiting_words(wait_s))
            status = 429
        elif (factor := SecondFactor.objects.of(user)).takes(form.cleaned_data["code"]):
            return _come_in(request, user, next_page)
        else:
            AuditLine.objects.note("code refused", about=user)
            form.add_error("code", DOES_NOT_FIT if factor.opens else NO_CODE_FITS)
    context = {"form": form, "heading": "Your second code", "act": "Sign in"}
    return render(request, "_page_form.html", context, status=status)


def _proved(request):
    pk, at, next_page = request.session.get(PROVED) or (None, 0, "")
    if pk is None or time.time() - at > PROVED_FOR_S:
        return None, ""
    user = get_user_model().objects.filter(pk=pk, is_active=True).first()
    return (user if user and SecondFactor.objects.of(user) else None), next_page


def _code_waits(request, user):
    return Try.objects.begin(f"code of {user.pk}", request.META.get("REMOTE_ADDR", ""))


def _come_in(request, user, next_page):
    Try.objects.went_well(f"code of {user.pk}", request.META.get("REMOTE_ADDR", ""))
    del request.session[PROVED]
    login(request, user, backend=BACKEND)
    AuditLine.objects.note("signed in", by=user)
    here = url_has_allowed_host_and_scheme(next_page, {request.get_host()}, request.is_secure())
    return redirect(next_page if here else "course:home")
