"""What people type into the course's pages, checked."""

from datetime import timedelta

from django import forms
from django.conf import settings
from django.contrib.auth import password_validation
from django.contrib.auth.models import User
from django.utils import timezone

from course.glossary import lines_amiss
from course.models import Course, Exercise, Group, Lesson, Meeting, Person, Week
from shootlog.findings import all_findings

ASK_AGAIN_AFTER = timedelta(minutes=10)  # between two mails that ask whose an address is


class PasswordMixin(forms.Form):
    password = forms.CharField(
        label="Password",
        strip=False,  # signing in takes it as typed, so must this
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="Ten characters or more. A short sentence you will remember is best.",
    )

    def clean_password(self):
        password_validation.validate_password(self.cleaned_data["password"])
        return self.cleaned_data["password"]


class NewPersonForm(PasswordMixin):
    """A first account: a name people call you by, a name to sign in with, a password."""

    field_order = ["display_name", "username", "password"]
    display_name = forms.CharField(
        label="What people call you",
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    username = forms.CharField(
        label="Name to sign in with",
        max_length=60,
        help_text="Letters, digits, and . - _ @. An e-mail address works too.",
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
        validators=[User.username_validator],
    )

    def clean_username(self):
        name = self.cleaned_data["username"]
        if User.objects.filter(username__iexact=name).exists():
            raise forms.ValidationError(f"“{name}” is taken here. Add a letter or a number.")
        return name

    def save(self, *, may_teach=False):
        user = User.objects.create_user(
            self.cleaned_data["username"], password=self.cleaned_data["password"]
        )
        Person.objects.create(
            user=user, display_name=self.cleaned_data["display_name"], may_teach=may_teach
        )
        return user


class MeForm(forms.ModelForm):
    """What one wants of the pages; an address for mails where this house can send any."""

    address = forms.EmailField(
        label="Your e-mail address",
        required=False,
        help_text="Only for those mails. They say that something came back, and not what. "
        "Leave it empty and none come.",
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
    )

    class Meta:
        model = Person
        fields = ["display_name", "tone", "paper", "large_type", "mail"]
        labels = {
            "display_name": "What people call you",
            "tone": "How the app and your instructor may speak to you",
            "paper": "Paper",
            "large_type": "Large type everywhere",
            "mail": "Send me a mail when something came back (one a day at most)",
        }
        help_texts = {
            "paper": "Dark room for the evening, bright sun for outdoors.",
            "tone": "Gentler: one point, the rest folded. Stronger: everything laid open, and your "
            "instructor knows that you asked for it. Only you can change this.",
        }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.initial["address"] = self.instance.mail_to
        if not settings.MAIL_IS_ON:
            del self.fields["mail"], self.fields["address"]

    def clean_address(self):
        address = self.cleaned_data["address"]
        asked_at = self.instance.mail_asked_at
        if address and address != self.instance.mail_to and asked_at:
            wait = asked_at + ASK_AGAIN_AFTER - timezone.now()
            if wait > timedelta(0):
                raise forms.ValidationError(
                    "A mail with a link is on its way already. Look for it, in the junk folder "
                    "too, or try again in ten minutes."
                )
        return address

    @property
    def new_address(self):
        """An address told just now that nobody has said yes to."""
        address = self.cleaned_data.get("address", "")
        return address if address != self.instance.mail_to else ""

    def save(self, commit=True):
        if "address" in self.cleaned_data and not self.cleaned_data["address"]:
            self.instance.mail_to = ""
        return super().save(commit)


MARKDOWN = (
    "A blank line begins a paragraph, ## a heading, - an item of a list; *stars* make a word "
    "stand out, ![what it shows](pictures/name.svg) shows a drawing."
)
HIDDEN = "It opens by itself when a group reaches that week. You always see it."


class CourseForm(forms.ModelForm):
    class Meta:
        model = Course
        fields = [
            "title",
            "summary",
            "advice_at_once",
            "weeks_gate_findings",
            "mains_hz",
            "glossary",
        ]
        labels = {
            "title": "Title",
            "summary": "In a few words, what it is",
            "advice_at_once": "Students see advice at once",
            "weeks_gate_findings": "Findings wait for the week that teaches them",
            "mains_hz": "Mains frequency where you teach",
            "glossary": "Words explained",
        }
        help_texts = {
            "advice_at_once": "Otherwise they see it when you release what you said.",
            "mains_hz": "Lamps on the mains leave bands in short exposures; this names the cure.",
            "glossary": "One a line: the word, other forms after commas, a colon, what it means. "
            "In a lesson the word opens its meaning.",
        }
        widgets = {
            "summary": forms.Textarea(attrs={"rows": 4}),
            "glossary": forms.Textarea(attrs={"rows": 12}),
        }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        known = [choice for choice in self.fields["mains_hz"].choices if choice[0]]
        self.fields["mains_hz"].choices = [("", "not told"), *known]

    def clean_glossary(self):
        """A line without a meaning is named, so that nothing typed is silently passed over."""
        text = self.cleaned_data["glossary"]
        if strange := lines_amiss(text):
            raise forms.ValidationError(f"“{strange[0]}” has no colon and no meaning after it.")
        return text


class WeekForm(forms.ModelForm):
    class Meta:
        model = Week
        fields = ["title", "aim", "demonstration", "problems", "sayings", "hidden"]
        labels = {
            "title": "Title",
            "aim": "Aim: what everyone can do at the end",
            "demonstration": "Demonstration",
            "problems": "What usually happens (only those who teach see it)",
            "sayings": "Sentences to say aloud (only those who teach see them)",
            "hidden": "Hide until taught",
        }
        help_texts = {"hidden": HIDDEN}
        widgets = {
            name: forms.Textarea(attrs={"rows": 3})
            for name in ("aim", "demonstration", "problems", "sayings")
        }


class InWeekForm(forms.ModelForm):
    """A page of a week: it may go to another week of its course, and goes last there."""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.was_in = self.instance.week_id
        self.fields["week"].queryset = Week.objects.filter(course=self.instance.week.course_id)
        self.fields["week"].required = False
        self.fields["week"].empty_label = None

    def clean_week(self):
        return self.cleaned_data["week"] or self.instance.week

    def clean(self):
        """A browser ends its lines with two signs, files with one: as kept they are the same."""
        values = super().clean()
        for key, value in values.items():
            if isinstance(value, str):
                values[key] = value.replace("\r\n", "\n")
        return values

    def save(self, commit=True):
        if self.instance.pk is None or self.instance.week_id != self.was_in:
            self.instance.go_last()
        return super().save(commit)


class LessonForm(InWeekForm):
    topics = forms.CharField(label="Topics taught here", required=False)

    class Meta:
        model = Lesson
        fields = ["title", "text", "topics", "week", "hidden"]
        labels = {"title": "Title", "text": "Text", "hidden": "Hide until taught"}
        help_texts = {"hidden": HIDDEN, "text": MARKDOWN}
        widgets = {"text": forms.Textarea(attrs={"rows": 24})}

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        known = sorted({one.topic for one in all_findings().values()})
        self.fields["topics"].help_text = (
            "Short names with commas. A finding waits for the lesson that teaches its topic; "
            f"the findings know these: {', '.join(known)}."
        )
        self.initial["topics"] = ", ".join(self.instance.topics)

    def clean_topics(self):
        words = (word.strip().lower() for word in self.cleaned_data["topics"].split(","))
        return list(dict.fromkeys(word.replace(" ", "-") for word in words if word))


def finding_choices():
    return sorted(((slug, one.title) for slug, one in all_findings().items()), key=lambda c: c[1])


class ExerciseForm(InWeekForm):
    waived = forms.MultipleChoiceField(
        label="Not said of these frames",
        required=False,
        choices=finding_choices,
        widget=forms.CheckboxSelectMultiple,
        help_text="In an aperture series a small opening is the point, so diffraction is not "
        "raised there.",
    )

    class Meta:
        model = Exercise
        fields = [
            "title",
            "kind",
            "text",
            "subject_width_mm",
            "subject_depth_mm",
            "finished_width_mm",
            "in_the_field",
            "cautions",
            "indoor_twin",
            "from_a_chair",
            "self_check",
            "waived",
            "week",
            "hidden",
        ]
        labels = {
            "title": "Title",
            "kind": "Kind",
            "text": "The brief in words",
            "subject_width_mm": "Subject width, mm",
            "subject_depth_mm": "Subject depth, mm",
            "finished_width_mm": "Finished print width, mm",
            "in_the_field": "In the field (asks three welfare ticks)",
            "cautions": "Cautions at the moment of risk",
            "indoor_twin": "Indoor twin",
            "from_a_chair": "From a chair",
            "self_check": "The student ticks the brief before seeing the numbers",
            "hidden": "Hide until taught",
        }
        help_texts = {
            "hidden": HIDDEN,
            "text": MARKDOWN,
            "cautions": "Where it can hurt: short, with where it is said in brackets.",
        }
        widgets = {
            name: forms.Textarea(attrs={"rows": 4})
            for name in ("text", "cautions", "indoor_twin", "from_a_chair")
        }

    def clean(self):
        values = super().clean()
        for key in ("subject_width_mm", "subject_depth_mm", "finished_width_mm"):
            value = values.get(key)
            if value is not None and not 0 < value < 1e6:
                self.add_error(key, f"{value:g} mm cannot be; give more than 0 or leave it empty.")
        return values


class GroupForm(forms.ModelForm):
    class Meta:
        model = Group
        fields = ["course", "name", "starts_on", "place", "week_now"]
        labels = {
            "course": "Course",
            "name": "Name of the group",
            "starts_on": "First day",
            "place": "Place",
            "week_now": "Week being taught now",
        }
        help_texts = {"week_now": "Findings about later weeks are held for you."}
        widgets = {"starts_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}

    def __init__(self, *args, courses, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["course"].queryset = courses
        self.fields["course"].empty_label = None if len(courses) == 1 else "choose a course"


class InvitationForm(forms.Form):
    for_name = forms.CharField(label="For whom", max_length=80, required=False)
    role = forms.ChoiceField(
        label="As",
        choices=[
            ("student", "student of this group"),
            ("assistant", "assistant of this course"),
            ("instructor", "instructor of this course"),
        ],
    )


class MeetingForm(forms.ModelForm):
    class Meta:
        model = Meeting
        fields = [
            *("kind", "week", "starts_at", "ends_at", "place", "notes", "safety"),
            *("tide", "sun", "wind", "shown"),
        ]
        labels = {
            "week": "Week of the course",
            "starts_at": "Begins",
            "ends_at": "Ends",
            "notes": "Notes for everyone",
            "safety": "Safety notes",
            "shown": "What was shown",
        }
        help_texts = {
            "tide": "High and low water, as printed for the day. It stands on the field card.",
            "shown": "Afterwards: for those who could not come.",
        }
        widgets = {
            key: forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
            for key in ("starts_at", "ends_at")
        } | {key: forms.Textarea(attrs={"rows": 3}) for key in ("notes", "safety", "shown")}

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["week"].queryset = Week.objects.filter(course=self.instance.group.course_id)
        self.fields["week"].empty_label = "none in particular"

    def clean(self):
        values = super().clean()
        start, end = values.get("starts_at"), values.get("ends_at")
        if start and end and end <= start:
            self.add_error("ends_at", "The meeting must end after it starts.")
        return values
