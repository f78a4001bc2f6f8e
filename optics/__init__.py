"""Light: formulas and pixel evidence. numpy only; no Django, no files, no wording."""
