"""At least one row in every table that is kept, whatever tables there are: nothing a model gets
tonight is left out of a backup or an update because a test did not know of it.

What `furnish` made stays; a table that is empty gets a row whose values are those a column asks
for. Signs outside ASCII and microseconds are among them, as they are what gets lost on the way.
"""

import itertools
import uuid
from datetime import UTC, date, datetime, time, timedelta

from django.apps import apps
from django.db import IntegrityError, models, transaction

from config import rows
from tests.whole_house import furnish

MOMENT = datetime(2026, 11, 3, 9, 10, 11, 123456, tzinfo=UTC)
_minutes = itertools.count()  # a later column of a row holds a later moment
WORDS = "Blüte, « 50 µm »"


def furnish_every_table():
    """Make the cast and fill every table; return the frame that was read and its hand-in."""
    course = _model("course.Course").objects.create(title="Small worlds")
    group = _model("course.Group").objects.create(course=course, name="Spring group")
    ines, sam = (_person(name, name == "ines") for name in ("ines", "sam"))
    teaching = _model("course.Teaching")
    teaching.objects.create(course=course, user=ines, role=teaching.INSTRUCTOR)
    _model("course.Enrolment").objects.create(group=group, user=sam)
    made = furnish(course, group, sam, ines)
    _model("course.Criterion").objects.create(
        exercise=made[1].exercise, kind="quantity", quantity="magnification", low=0.4
    )
    fill_empty_tables()
    return made


def fill_empty_tables():
    for model in rows.kept_models():
        if model._meta.label_lower not in {"django_migrations", "auth.group"}:
            _first_row(model)


def empty_tables():
    return [m._meta.label_lower for m in rows.kept_models() if not m._base_manager.exists()]


def _model(label):
    return apps.get_model(label)


def _person(name, may_teach):
    user = _model("auth.User").objects.create_user(name, password=name)
    _model("course.Person").objects.create(
        user=user, display_name=name.title(), may_teach=may_teach
    )
    return user


def _first_row(model):
    """The first row of a table, made where there is none."""
    there = model._base_manager.order_by("pk").first()
    if there is not None:
        return there
    values = {}
    for field in model._meta.concrete_fields:
        if field.auto_created or (field.primary_key and field.has_default()):
            continue
        values[field.name] = _value(field)
    for tried in _ways(model, values):
        try:
            with transaction.atomic():
                row = model(**tried)
                row.save(force_insert=True)
        except IntegrityError as why:
            trouble = why
        else:
            return row
    raise trouble


def _ways(model, values):
    """All of it; or only one of what may be empty, as where a row is of one thing or another."""
    may_be_empty = [
        f.name for f in model._meta.concrete_fields if f.is_relation and f.null and values[f.name]
    ]
    yield values
    for kept in may_be_empty:
        yield values | {name: None for name in may_be_empty if name != kept}


def _value(field):
    """Something for this column, and not nothing where it could be more."""
    if field.is_relation:
        if field.related_model is field.model:
            return None
        return _first_row(field.related_model)
    if field.choices:
        return field.flatchoices[0][0]
    if field.has_default() and not isinstance(field, models.JSONField) and field.default != "":
        return field.get_default()
    return _by_kind(field)


def _by_kind(field):
    by_kind = [
        (models.UUIDField, uuid.UUID(int=7)),
        (models.BooleanField, True),
        (models.JSONField, field.get_default() if field.has_default() else {"half": 0.5}),
        (models.FloatField, 1 / 3),
        (models.DurationField, timedelta(minutes=7)),
        (models.DateTimeField, MOMENT + timedelta(minutes=next(_minutes))),
        (models.DateField, date(2026, 11, 3)),
        (models.TimeField, time(9, 10)),
        (models.DecimalField, 1),
        (models.IntegerField, 3),
        (models.BinaryField, b"\x89PNG\0\xff"),
        (models.SlugField, "close-up"),
        (models.CharField, WORDS[: field.max_length or None]),
        (models.TextField, WORDS),
    ]
    return next(value for kind, value in by_kind if isinstance(field, kind))
