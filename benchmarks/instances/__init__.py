"""Cutting problems to measure the solver with: one module a class, each a pure seeded generator."""
