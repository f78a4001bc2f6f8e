"""How a benchmark measures: two things in turn in one process, and the ratio between them.

Only ratios inside one run mean anything; a machine's milliseconds do not carry over.
"""

import statistics
import time


def paired(base, case, *, n=9, clock=time.process_time):
    """Run base and case in turn and return the median ratio, its spread and both times.

    ``clock`` is processor time, for work of one thread; give ``time.perf_counter`` for what
    waits or runs in several processes. The spread is half the distance between the quartiles
    of the n ratios.
    """
    base(), case()  # imports, buffers, caches
    bases, cases = [], []
    for _ in range(n):
        bases.append(timed(base, clock))
        cases.append(timed(case, clock))
    ratios = [took / against for took, against in zip(cases, bases, strict=True)]
    return {
        "ratio": round(statistics.median(ratios), 4),
        "n": n,
        "spread": round(spread(ratios), 4),
        "base_ms": round(statistics.median(bases) * 1000, 3),
        "case_ms": round(statistics.median(cases) * 1000, 3),
    }


def timed(what, clock):
    began = clock()
    what()
    return clock() - began


def spread(values):
    low, _, high = statistics.quantiles(values, n=4)
    return (high - low) / 2


def percentile(values, share):
    """Return the value below which this share of the values lies, by nearest rank."""
    ranked = sorted(values)
    return ranked[min(len(ranked) - 1, int(share * len(ranked)))]


def peak_rss_mb():
    """Return the most memory this process ever held; None where the system does not say.

    Linux's own high-water mark of this process: ``ru_maxrss`` carries over what the parent held
    when it started us.
    """
    try:
        with open("/proc/self/status") as status:
            line = next(row for row in status if row.startswith("VmHWM"))
    except (OSError, StopIteration):
        return None
    return round(int(line.split()[1]) / 1024, 1)
