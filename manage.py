#!/usr/bin/env python3
"""Start anything here: demo, serve, test, lint, bench, and Django's own commands."""

import os
import sys


def main():
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
