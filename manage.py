#!/usr/bin/env python3
"""Start anything here: demo, serve, test, lint, bench, and every command of Django's.

Run it with any Python from 3.11 to 3.13. The first start makes the environment.
"""

import os
import sys

from config import bootstrap


def main():
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    bootstrap.enter(sys.argv)
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
