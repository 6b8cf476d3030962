"""Sending events: what happens is put on the record of a project's job, with what follows from it."""
