"""Refits: a newer survey against a plan that is cut; what is used again, moved, cut anew, and ordered on top."""
