"""Still poses in, sensor constants out."""
