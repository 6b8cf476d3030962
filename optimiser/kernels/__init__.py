"""The compiled inner loops, in plain C, and how they are loaded."""
