"""Refits: a newer survey against a plan that is cut; what is used again, moved, re-cut, and ordered on top."""
