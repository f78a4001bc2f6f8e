"""Trouble with the file itself, said at once whatever the week: how to send the original."""

from shootlog.findings import all_findings, examine


def file_trouble_slugs():
    return [slug for slug, finding in all_findings().items() if finding.file_trouble]


def file_trouble(reading):
    """The outcomes about the file that are raised."""
    about_the_file = file_trouble_slugs()
    return [
        outcome
        for outcome in (examine(reading) if reading else [])
        if outcome.finding in about_the_file and outcome.answer == "yes"
    ]
