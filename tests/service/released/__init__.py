"""A small database of every form of the tables that was ever released, made by that release's own code."""
