"""The log of who did what, from where, when, and what came of it: only ever added to."""
