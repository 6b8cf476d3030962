"""A POST that is sent twice under one Idempotency-Key makes one thing."""
