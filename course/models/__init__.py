"""Tables of the teaching."""

from course.models.audit import AuditLine
from course.models.course import Course, Teaching
from course.models.crit import Crit, Phrase
from course.models.digest import Digest
from course.models.exercise import Criterion, Exercise
from course.models.group import Attendance, Enrolment, Group, Meeting
from course.models.hand_in import HandIn, HandInFrame
from course.models.invitation import Invitation, ResetLink
from course.models.open_session import OpenSession
from course.models.person import Person
from course.models.picture import CoursePicture
from course.models.revision import Revision
from course.models.second_factor import RecoveryCode, SecondFactor
from course.models.throttle import Try
from course.models.week import Lesson, Week

__all__ = [
    "AuditLine",
    "Attendance",
    "Course",
    "CoursePicture",
    "Crit",
    "Criterion",
    "Digest",
    "Enrolment",
    "Exercise",
    "Group",
    "HandIn",
    "HandInFrame",
    "Invitation",
    "Lesson",
    "Meeting",
    "OpenSession",
    "Person",
    "Phrase",
    "RecoveryCode",
    "ResetLink",
    "Revision",
    "SecondFactor",
    "Teaching",
    "Try",
    "Week",
]
