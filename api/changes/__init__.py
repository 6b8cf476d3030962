"""The log of who changed what and when: only ever added to."""
