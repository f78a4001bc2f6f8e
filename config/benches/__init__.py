"""One file here, one or more benchmarks: the folder is scanned, nothing is registered.

A file holds ``BENCHES = {"name": function}``. The function takes nothing and returns a dict with
``ratio``, ``against`` (in words), ``n``, ``spread`` and whatever else is worth a number; most
get them from ``config.measuring.paired``. It runs alone in a fresh process.
"""

import importlib
import pkgutil


def found():
    """Return {name: function} of every benchmark in this folder."""
    benches = {}
    for module in pkgutil.iter_modules(__path__):
        benches |= getattr(importlib.import_module(f"{__name__}.{module.name}"), "BENCHES", {})
    return dict(sorted(benches.items()))
