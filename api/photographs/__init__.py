"""Photographs of joints, brackets, goods and gaps, kept with the project's record."""
