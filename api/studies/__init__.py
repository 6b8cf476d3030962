"""Comparisons of gap sizes and simulations of tolerances: jobs like plans, shared out over the workers."""
