"""The demo: an invented club sends its recordings to a service started for the purpose."""
