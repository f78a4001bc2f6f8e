from datetime import timedelta

from django.conf import settings
from django.db import models, transaction
from django.utils import timezone

from shootlog.set_up import SUPPORTS

#: How far from its note a frame may lie in time and still be offered with it.
REACH = timedelta(minutes=20)


class FieldNoteQuerySet(models.QuerySet):
    def owned_by(self, user):
        return self.filter(owner=user)

    def open_for(self, user):
        """Notes whose frames have not been confirmed yet, the oldest first."""
        return self.owned_by(user).filter(settled_at=None).select_related("set_up")


class FieldNote(models.Model):
    """Three taps in the field: what no camera writes down, with the moment it was tapped.

    A note changes no frame by itself. Frames taken near its moment are offered; what it says is
    told of those its owner confirms.
    """

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="field_notes"
    )
    phone_id = models.UUIDField()  # made on the phone, so that sending twice keeps one
    noted_at = models.DateTimeField()
    received_at = models.DateTimeField(default=timezone.now)
    set_up = models.ForeignKey(
        "shootlog.KeptSetUp", null=True, blank=True, on_delete=models.SET_NULL, related_name="notes"
    )
    support = models.CharField(max_length=10, blank=True, choices=[(s, s) for s in SUPPORTS])
    #: where the light came from on a clock face seen from above, the camera standing at 6
    light_clock = models.PositiveSmallIntegerField(null=True, blank=True)
    diffuser = models.BooleanField(null=True, blank=True)
    card = models.BooleanField(null=True, blank=True)
    wind = models.CharField(max_length=10, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)

    objects = FieldNoteQuerySet.as_manager()

    class Meta:
        ordering = ["noted_at"]
        constraints = [
            models.UniqueConstraint(fields=["owner", "phone_id"], name="a_note_once_per_person")
        ]

    def __str__(self):
        return f"note of {self.noted_at:%d.%m. %H:%M}"

    @property
    def direction(self):
        """The clock face in the words of the light study; None where nothing was tapped."""
        return light_direction(self.light_clock)

    @property
    def in_words(self):
        """What was tapped, as one line."""
        light = f"light from {self.light_clock} o'clock, {self.direction}" if self.direction else ""
        said = [
            self.set_up.name if self.set_up else "",
            self.support,
            light,
            "diffuser" if self.diffuser else "",
            "card" if self.card else "",
            f"wind {self.wind}" if self.wind else "",
        ]
        return ", ".join(part for part in said if part) or "nothing tapped"

    @property
    def as_told(self):
        """What a frame is told, without the set-up, which has its own column."""
        told = {
            "support": self.support,
            "light": self.direction,
            "light_clock": self.light_clock,
            "diffuser": self.diffuser,
            "card": self.card,
            "wind": self.wind,
        }
        return {k: v for k, v in told.items() if v not in (None, "")}

    @transaction.atomic
    def tell(self, frames):
        """Tell the confirmed frames what was tapped; what was told of them before goes first."""
        for frame in frames:
            frame.told = self.as_told | frame.told
            frame.set_up = frame.set_up or self.set_up
            frame.save(update_fields=["told", "set_up"])
        self.settle()

    def settle(self):
        self.settled_at = timezone.now()
        self.save(update_fields=["settled_at"])


def light_direction(clock):
    """Return front, side or back for an hour on the clock face, the camera standing at 6."""
    if clock is None:
        return None
    from_camera = min((clock - 6) % 12, (6 - clock) % 12)  # hours away from the camera
    if from_camera <= 1:
        return "front"
    return "side" if from_camera <= 4 else "back"


def match(notes, frames):
    """Offer each frame with the note nearest in time; return {note pk: [frames]}.

    Both are lists in order of time; a frame farther from every note than `REACH` is not offered.
    """
    offered = {note.pk: [] for note in notes}
    for frame in frames:
        nearest = min(notes, key=lambda note: abs(note.noted_at - frame.taken_at), default=None)
        if nearest is not None and abs(nearest.noted_at - frame.taken_at) <= REACH:
            offered[nearest.pk].append(frame)
    return offered
