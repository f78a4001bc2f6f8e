"""The house's numbers in the text format that Prometheus reads (version 0.0.4).

They are counted in the database, so that any one web process answers for all of them.
"""

CONTENT_TYPE = "text/plain; version=0.0.4; charset=utf-8"
QUANTILES = (0.5, 0.95, 0.99)


def as_text(well):
    """Write a `Wellbeing` down."""
    lines = [
        *_gauge("wd_jobs", "Background jobs by state.", well.jobs, "state"),
        *_gauge("wd_frames", "Frames by state.", well.frames, "state"),
        *_gauge(
            "wd_oldest_due_job_seconds", "How long the next job has waited.", well.oldest_due_s
        ),
        *_gauge(
            "wd_read_seconds",
            "How long reading a frame took, over the last hour.",
            {share: well.read_quantile_s(share) for share in QUANTILES},
            "quantile",
        ),
        *_gauge("wd_reads_last_hour", "Frames read in the last hour.", len(well.read_s)),
        *_gauge("wd_jobs_failed_last_hour", "Jobs given up in the last hour.", well.failed_lately),
        *_gauge("wd_workers", "Workers heard of in the last half minute.", well.workers),
        *_gauge("wd_disk_free_bytes", "Room where the files lie.", well.disk_free),
        *_gauge(
            "wd_last_backup_timestamp_seconds",
            "When the last backup was made.",
            well.last_backup.timestamp() if well.last_backup else None,
        ),
    ]
    return "".join(f"{line}\n" for line in lines)


def _gauge(name, words, value, label=None):
    """One number, or one for each value of a label; what is not known is left out."""
    known = value if isinstance(value, dict) else {None: value}
    known = {key: number for key, number in known.items() if number is not None}
    if not known:
        return
    yield f"# HELP {name} {words}"
    yield f"# TYPE {name} gauge"
    for key, number in sorted(known.items()):
        yield f'{name}{{{label}="{key}"}} {number}' if label else f"{name} {number}"
