"""Small pieces the loop's pages share."""

from django import template

from shootlog.wording import NOT_SO_BECAUSE

register = template.Library()


@register.inclusion_tag("course/_said.html", takes_context=True)
def said(context, outcome, faded=(), show=False):
    """One finding said aloud, how sure it is in its four words, the crop that proves it.

    Of a topic met often before (`faded`) the number is said, and what to try waits to be asked.
    `show` unfolds the crop; folded it costs nothing until somebody asks.
    """
    return {
        "outcome": outcome,
        "sure": outcome.sure_words,
        "folded": outcome.topic in faded,
        "crop_url": context.get("crop_url", ""),
        "show": show,
    }


@register.inclusion_tag("course/_not_so.html", takes_context=True)
def not_so(context, hand_in, frame, outcome):
    return {
        "hand_in": hand_in,
        "frame": frame,
        "outcome": outcome,
        "shown_number": context.get("shown_number", ""),
        "csrf_token": context.get("csrf_token"),
    }


@register.inclusion_tag("course/_set_aside.html", takes_context=True)
def set_aside(context, hand_in, frame, outcome):
    """A finding that is not so, why if somebody said it, and the way back."""
    why = next((f.set_aside_why for f in frame.flags.all() if f.finding == outcome.finding), "")
    return not_so(context, hand_in, frame, outcome) | {"why": why, "reasons": NOT_SO_BECAUSE}


@register.inclusion_tag("course/_say_first.html", takes_context=True)
def say_first(context, hand_in, outcome):
    """The instructor may choose what is said first, held or not."""
    return {
        "hand_in": hand_in,
        "outcome": outcome,
        "shown_number": context.get("shown_number", ""),
        "csrf_token": context.get("csrf_token"),
    }


@register.filter
def person(user):
    """What people call this user."""
    told = getattr(user, "person", None)
    return told.display_name if told else user.get_username()
