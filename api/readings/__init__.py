"""Gaps that were measured at the slab edge: they become the survey's next version."""
