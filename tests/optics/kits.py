"""A kit as the issue names it: 6 lenses, 7 tube lengths, 4 close-up lenses, 2 bodies."""

from optics.kit import Body, Kit, Lens

BODIES = (Body("full frame", 36.0, 24.0), Body("smaller", 23.5, 15.6))
LENSES = (
    Lens("standard", 50.0, 0.15, None, 1.8, 16.0, 1.1, 25.0),
    Lens("macro", 104.0, 1.0, 75.0, 2.8, 32.0, 1.0, 60.0),
    Lens("old macro", 55.0, 0.5, None, 3.5, 32.0, 0.95),
    Lens("tele", 200.0, 0.2, 180.0, 4.0, 32.0),
    Lens("wide", 24.0, 0.2, None, 2.8, 22.0, 1.7, 40.0),
    Lens("magnifier", 65.0, 5.0, 40.0, 2.8, 16.0, 1.0, 20.0, 1.0),
)
TUBES_MM = (12.0, 20.0, 32.0, 36.0, 48.0, 56.0, 68.0)  # of rings of 12, 20 and 36
CLOSE_UPS = (1.5, 2.9, 4.0, 10.0)
WHOLE = Kit(BODIES, LENSES, TUBES_MM, CLOSE_UPS)
WITH_CONVERTERS = Kit(BODIES, LENSES, TUBES_MM, CLOSE_UPS, (1.4, 2.0), True)
