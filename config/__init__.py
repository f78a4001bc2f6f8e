"""Settings, the site map, the page frame."""
