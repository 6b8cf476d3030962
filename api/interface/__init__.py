"""The HTTP interface as its callers read of it: its description, the pages of it, what its problems mean."""
