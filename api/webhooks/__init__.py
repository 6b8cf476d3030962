"""Webhooks: a company's own server is told what happened, with a signature, until it has taken it."""
