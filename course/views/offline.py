"""What makes the carried pages work without signal: a service worker at the root, a manifest."""

import hashlib
import json

from django.conf import settings
from django.http import JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

#: Everything the carried pages are drawn with; kept on the phone beside them.
SHELL = [
    "look.css",
    "card.css",
    "offline.js",
    "field_log.js",
    "icon.svg",
    *(
        f"vendor/atkinson/atkinson-hyperlegible-next-{part}-{weight}-normal.woff2"
        for part in ("latin", "latin-ext")
        for weight in (400, 700)
    ),
]


@never_cache
@require_safe
def worker(request):
    """The script itself; at the root, so that it may answer for the pages that are carried."""
    shell = [static(name) for name in SHELL]
    return render(
        request,
        "offline-worker.js",
        {
            "shell": json.dumps(shell),
            "digest": hashlib.sha256("".join(shell).encode()).hexdigest()[:12],
            "static": settings.STATIC_URL,
        },
        content_type="text/javascript",
    )


@require_safe
def manifest(request):
    """What a phone needs to know to put the card among its own pages."""
    icons = [
        {"src": static("icon.svg"), "sizes": "any", "type": "image/svg+xml"},
        *(
            {"src": static(f"icon-{px}.png"), "sizes": f"{px}x{px}", "type": "image/png"}
            for px in (192, 512)
        ),
    ]
    return JsonResponse(
        {
            "name": "Working Distance",
            "short_name": "Field card",
            "start_url": "/card/",
            "scope": "/",
            "display": "standalone",
            "background_color": "#faf7f0",
            "theme_color": "#f1ece0",
            "icons": icons,
        },
        content_type="application/manifest+json",
    )
