"""Tables of the log. Names cross to the course upward only."""

from shootlog.models.api_token import ApiToken
from shootlog.models.camera import Camera
from shootlog.models.field_note import FieldNote
from shootlog.models.flag import Flag
from shootlog.models.frame import Frame
from shootlog.models.job import Job
from shootlog.models.kept_plan import KeptPlan
from shootlog.models.kept_set_up import KeptSetUp
from shootlog.models.kit import KitItem
from shootlog.models.series import Series, SeriesFrame
from shootlog.models.upload import Upload

__all__ = [
    "ApiToken",
    "Camera",
    "FieldNote",
    "Flag",
    "Frame",
    "Job",
    "KeptPlan",
    "KeptSetUp",
    "KitItem",
    "Series",
    "SeriesFrame",
    "Upload",
]
