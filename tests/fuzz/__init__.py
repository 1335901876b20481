"""Fuzzers of every decoder, run by `make fuzz`; what they found is kept as plain tests beside the decoders."""
