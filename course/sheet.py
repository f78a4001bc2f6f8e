"""Counts over a group's hand-ins; never who, always how many."""

from dataclasses import dataclass

from django.db.models import Count, Q

from shootlog.findings import all_findings
from shootlog.models import Flag

SQUARES_AT_MOST = 24


@dataclass(frozen=True)
class Sheet:
    hand_ins: int
    people: int
    states: list  # (words, how many)
    findings: list  # (title, prints, people, the people as squares in ink)
    verdicts: list  # (criterion, met, not yet, can't tell)


def sheet_of(rows):
    """Three queries, however many hand-ins there are."""
    totals = rows.aggregate(
        hand_ins=Count("pk"),
        people=Count("student", distinct=True),
        kept=Count("pk", filter=Q(state="kept")),
        reshoot=Count("pk", filter=Q(state="reshoot asked")),
        talked=Count("pk", filter=Q(state="talked through")),
        waiting=Count("pk", filter=Q(state="waiting")),
    )
    return Sheet(
        hand_ins=totals["hand_ins"],
        people=totals["people"],
        states=[
            ("kept", totals["kept"]),
            ("reshoot asked", totals["reshoot"]),
            ("talked through", totals["talked"]),
            ("waiting for a word", totals["waiting"]),
        ],
        findings=[(*each, _squares(each[2], totals["people"])) for each in _findings(rows)],
        verdicts=_verdicts(rows),
    )


def _squares(some, of):
    """A filled square for each of some, an open one for the rest; a crowd is left to its number."""
    return "■" * some + "□" * (of - some) if of <= SQUARES_AT_MOST else ""


def _findings(rows):
    counted = (
        Flag.objects.standing()
        .filter(frame__hand_in_places__hand_in__in=rows.values("pk"))
        .values("finding")
        .annotate(prints=Count("frame", distinct=True), people=Count("frame__owner", distinct=True))
        .order_by("-people", "-prints", "finding")
    )
    known = all_findings()
    return [
        (known[c["finding"]].title, c["prints"], c["people"])
        for c in counted
        if c["finding"] in known
    ]


def _verdicts(rows):
    met = {}
    for verdicts in rows.exclude(verdicts=None).values_list("verdicts", flat=True):
        for verdict in verdicts:
            counts = met.setdefault(verdict["criterion"], {"met": 0, "not yet": 0, "can't tell": 0})
            counts[verdict["verdict"]] += 1
    return [
        (words, c["met"], c["not yet"], c["can't tell"])
        for words, c in sorted(met.items(), key=lambda item: -item[1]["not yet"])
    ]
