"""One file per kind of thing the API speaks of."""
