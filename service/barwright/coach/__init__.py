"""Pages for the coach: server-made HTML, no JSON."""
