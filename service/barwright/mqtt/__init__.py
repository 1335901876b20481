"""Blocks that come over MQTT, handed to the service over HTTP: same blocks, same refusals."""
