"""What people type about their account, checked."""

from django import forms

from course.forms import PasswordMixin


class CodeForm(forms.Form):
    code = forms.CharField(
        label="Code",
        max_length=40,
        help_text="Six digits from your phone, or one of your recovery codes.",
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "inputmode": "text", "autocapitalize": "none"}
        ),
    )


class OldPassword(forms.Form):
    """Asks for the password again before something that cannot be taken back lightly."""

    old_password = forms.CharField(
        label="Your password now",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, *args, user, **kwargs):
        super().__init__(*args, **kwargs)
        self.user = user

    def clean_old_password(self):
        given = self.cleaned_data["old_password"]
        if not self.user.check_password(given):
            raise forms.ValidationError("This is not your password now. Capitals count.")
        return given


class NewPasswordForm(OldPassword, PasswordMixin):
    field_order = ["old_password", "password"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["password"].label = "Your new password"


class ConfirmWithCode(OldPassword, CodeForm):
    """Switching the second code on: the password, and a first code as proof that it works."""

    field_order = ["old_password", "code"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["code"].help_text = "The six digits your phone shows now."


class DeleteMeForm(OldPassword):
    words = forms.CharField(
        label="Type: delete me",
        help_text="It cannot be taken back. Take everything with you first.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    field_order = ["words", "old_password"]

    def clean_words(self):
        if self.cleaned_data["words"].strip().lower() != "delete me":
            raise forms.ValidationError("Nothing was deleted. Type the two words: delete me")
        return self.cleaned_data["words"]
