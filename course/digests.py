"""One mail a day at most: that there is news, and nothing a stranger should not read.

No name, no picture, no place, no word of a crit: only how many, and where to read it.
"""

from __future__ import annotations

import logging
import smtplib
from dataclasses import dataclass
from datetime import timedelta

from django.conf import settings
from django.core import signing
from django.core.mail import EmailMessage, get_connection
from django.db.models import F
from django.template.defaultfilters import pluralize
from django.urls import reverse
from django.utils import timezone
from django_tasks import task

from course.models import Crit, Digest, Group, Person

log = logging.getLogger(__name__)
STOP_SALT, CONFIRM_SALT = "stop mails", "this address is mine"
SOMETHING_CAME, A_WEEK_OPENED = "Something came back for you", "There is news of your course"
AGAIN_AFTER = timedelta(minutes=15)  # where the mail server does not answer
CONFIRM_WITHIN = timedelta(days=2)


@dataclass(frozen=True)
class News:
    answered: int
    reshoots: int
    weeks: int

    def __bool__(self):
        return bool(self.answered or self.weeks)


def news_for(user, since):
    """What became known to this person since then; a crit taken back is no news."""
    crits = Crit.objects.released().filter(
        hand_in__student=user, hand_in__withdrawn_at=None, released_at__gt=since
    )
    told = set(crits.values_list("hand_in", flat=True))
    again = set(crits.filter(decision="reshoot asked").values_list("hand_in", flat=True))
    weeks = Group.objects.taken_by(user).filter(
        week_opened_at__gt=since,
        course__weeks__number=F("week_now"),
        course__weeks__hidden=False,
    )
    return News(len(told), len(again), weeks.distinct().count())


@task
def send_digest(digest_pk: int) -> str:
    """Send a planned mail, once or not at all; may be killed at any point and run again."""
    digest = Digest.objects.select_related("user__person").filter(pk=digest_pk).first()
    if digest is None or not Digest.is_wanted_by(digest.user):
        return "not wanted any more"
    if digest.day != timezone.localdate():  # no worker ran that day; today has a row of its own
        Digest.objects.ask_for(digest.user)
        return "moved to the next day"
    news = news_for(digest.user, digest.since)
    if not news:
        return "no news"
    return _send(digest, words_of(news, digest.user))


def _send(digest, message):
    connection = message.connection = get_connection()
    try:
        connection.open()
    except (OSError, smtplib.SMTPException) as trouble:
        log.warning("the mail server does not answer: %s", trouble)
        digest.plan(timezone.now() + AGAIN_AFTER)
        return "the mail server did not answer"
    try:
        if not digest.begin():
            return "begun before"
        message.send()
    except (OSError, smtplib.SMTPException) as trouble:
        # Perhaps it went out, perhaps not: what is not known is not done twice.
        log.warning("a mail may not have gone out: %s", trouble)
        return "may not have gone out"
    finally:
        connection.close()
    digest.done()
    return "sent"


def words_of(news, user):
    """The mail itself."""
    lines = []
    if news.answered:
        lines.append(
            f"- {news.answered} of your hand-ins {pluralize(news.answered, 'was,were')} answered."
        )
    if news.reshoots:
        lines.append(
            f"- {news.reshoots} of them {pluralize(news.reshoots, 'asks,ask')} for a reshoot."
        )
    if news.weeks:
        lines.append("- A new week of your course is open.")
    headline = SOMETHING_CAME if news.answered else A_WEEK_OPENED
    stop = address_of("course:stop-mails", signing.dumps(user.pk, salt=STOP_SALT))
    body = "\n".join(
        [
            "Hello,",
            "",
            f"{headline[0].lower()}{headline[1:]}:",
            "",
            *lines,
            "",
            f"Read it here: {address_of('course:this-week')}",
            "",
            "At most one such mail comes a day.",
            f"No more of them, without signing in: {stop}",
        ]
    )
    headers = {"List-Unsubscribe": f"<{stop}>"}
    if stop.startswith("https://"):  # RFC 8058, section 3.1: one click goes by HTTPS alone
        headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return _message(headline, body, user.person.mail_to, headers)


def _message(subject, body, to, headers=None):
    # RFC 3834: no holiday notice answers a mail that says it was made by a machine
    headers = {"Auto-Submitted": "auto-generated", **(headers or {})}
    return EmailMessage(f"{subject} (Working Distance)", body, to=[to], headers=headers)


def address_of(name, *args):
    return settings.PUBLIC_URL + reverse(name, args=args)


# --- whose address it is ---


def ask_whose(person, address):
    """Write to an address that somebody told; mails go there once the link in it was opened."""
    person.mail_asked_at = timezone.now()
    person.save(update_fields=["mail_asked_at"])
    send_question.enqueue(person.pk, address)


@task
def send_question(person_pk: int, address: str) -> None:
    link = address_of("course:confirm-mail", signing.dumps([person_pk, address], salt=CONFIRM_SALT))
    body = "\n".join(
        [
            "Hello,",
            "",
            "somebody gave this address to hear when something came back to them.",
            f"If it was you, open this within two days: {link}",
            "",
            "If not, do nothing: no other mail comes here.",
        ]
    )
    _message("Is this address yours?", body, address).send()


def confirm(token):
    """Take the address in a link that was opened; the person, or nobody."""
    try:
        person_pk, address = signing.loads(token, salt=CONFIRM_SALT, max_age=CONFIRM_WITHIN)
    except signing.BadSignature:
        return None
    person = Person.objects.filter(pk=person_pk).first()
    if person:
        person.mail_to = address
        person.mail = True
        person.save(update_fields=["mail_to", "mail"])
    return person


def whose_mails(token):
    """The person a link in a mail is about, or nobody; such a link never grows old."""
    try:
        user_pk = signing.loads(token, salt=STOP_SALT)
    except signing.BadSignature:
        return None
    return Person.objects.filter(user=user_pk).first()
