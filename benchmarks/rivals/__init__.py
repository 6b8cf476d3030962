"""Other ways to cut the same pieces, to see beside the solver what it is worth. One module a rival."""
