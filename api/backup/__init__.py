"""Backups: everything that the service keeps in one file, made while it runs, and put into an empty place."""
