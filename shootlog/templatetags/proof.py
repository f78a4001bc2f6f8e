"""What is seen in a print: the crops that prove a finding, and drawings laid over it when asked.

A page that shows a print sets `crop_url` (where its crops come from); the drawings lie beside it.
Which drawing is asked for stands in the page's own address, `?over=sharp`, so that it works
without scripts and can be sent on.
"""

import string

from django import template

from shootlog.seen_in_words import OVERLAYS, has_overlays, overlay_words, place_in_words

register = template.Library()
CROPS = "crops"
TICK = 0.25  # length of a corner's stroke, as a share of the crop's shorter side


@register.inclusion_tag("shootlog/_proof.html", takes_context=True)
def proof(context, outcome, show=False):
    """The crop that proves an outcome, and a good one beside it; nothing where none was chosen."""
    return {"proof": outcome.proof, "crop_url": context.get("crop_url", ""), "show": show}


@register.inclusion_tag("shootlog/_over.html", takes_context=True)
def over(context, frame, outcomes=()):
    """The drawing that was asked for, to stand inside the paper of a print."""
    kind = _asked(context, frame, outcomes)
    lying = {"kind": kind, "frame": frame}
    if kind == CROPS:
        lying["crops"] = _drawn_crops(frame, outcomes)
        lying["letter_px"] = max(frame.size_as_seen or (1, 1)) // 30
    elif kind:
        lying["address"] = f"{context.get('crop_url', '').removesuffix('crop')}over/{kind}.svg"
    return lying


@register.inclusion_tag("shootlog/_over_choice.html", takes_context=True)
def over_choice(context, frame, outcomes=()):
    """Links that lay a drawing over the print, how it is read, and the same said in words."""
    if not has_overlays(frame.evidence):
        return {"choices": []}
    asked = _asked(context, frame, outcomes)
    kinds = {"": "nothing"} | {kind: words for kind, (words, _) in OVERLAYS.items()}
    if _crops(outcomes):
        kinds[CROPS] = "where it shows"
    query = context["request"].GET.copy() if "request" in context else None
    choices = []
    for kind, words in kinds.items():
        if query is not None:
            query["over"] = kind
            if not kind:
                del query["over"]
        address = f"?{query.urlencode()}" if query else "?"
        choices.append({"address": address, "words": words, "is_on": kind == asked})
    return {
        "choices": choices,
        "how": OVERLAYS[asked][1] if asked in OVERLAYS else "",
        "twin": overlay_words(asked, frame.evidence) if asked in OVERLAYS else "",
        "letters": _lettered(frame, outcomes) if asked == CROPS else [],
    }


def _asked(context, frame, outcomes):
    request = context.get("request")
    kind = request.GET.get("over", "") if request else ""
    known = kind in OVERLAYS or (kind == CROPS and _crops(outcomes))
    return kind if known and has_overlays(frame.evidence) else ""


def _crops(outcomes):
    return [crop for outcome in outcomes if outcome.proof for crop in outcome.proof.crops]


def _lettered(frame, outcomes):
    """Each crop with its letter and where it lies, in words."""
    size = frame.size_as_seen or (1, 1)
    return [
        (
            letter,
            crop.words,
            place_in_words((crop.x + crop.w / 2) / size[0], (crop.y + crop.h / 2) / size[1]),
        )
        for letter, crop in zip(string.ascii_lowercase, _crops(outcomes), strict=False)
    ]


def _drawn_crops(frame, outcomes):
    """Corners of every crop, in the picture's own pixels, each with its letter."""
    drawn = []
    for letter, crop in zip(string.ascii_lowercase, _crops(outcomes), strict=False):
        t = round(TICK * min(crop.w, crop.h))
        left, top, right, bottom = crop.x, crop.y, crop.x + crop.w, crop.y + crop.h
        corners = (
            f"M{left} {top + t}V{top}H{left + t}M{right - t} {top}H{right}V{top + t}"
            f"M{right} {bottom - t}V{bottom}H{right - t}M{left + t} {bottom}H{left}V{bottom - t}"
        )
        drawn.append({"letter": letter, "path": corners, "x": left + t // 4, "y": bottom - t // 4})
    return drawn
