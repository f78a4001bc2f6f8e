"""Passwords anybody would try first in a house like this one."""

import re

from django.core.exceptions import ValidationError

#: names of the thing, of its nouns and of the trade; a password made of these alone is none
WORDS = (
    "working",
    "distance",
    "macro",
    "close",
    "up",
    "photo",
    "photography",
    "photograph",
    "camera",
    "lens",
    "frame",
    "print",
    "stack",
    "shoot",
    "log",
    "course",
    "student",
    "teacher",
    "instructor",
    "insect",
    "flower",
    "beetle",
    "password",
    "welcome",
    "school",
    "class",
)
MADE_OF = re.compile(rf"(?:{'|'.join(sorted(WORDS, key=len, reverse=True))})+s?")


class HouseWords:
    """Refuses "Macro2026!" and its kind: words of the trade with digits and signs around."""

    def validate(self, password, user=None):
        letters = "".join(letter for letter in password.lower() if letter.isalpha())
        if MADE_OF.fullmatch(letters):
            raise ValidationError(
                "Everybody in this trade would try these words first. Take a short sentence of "
                "your own, such as what stands on your kitchen table.",
                code="house_words",
            )

    def get_help_text(self):
        return "Not only words of the trade."
