"""Projects that are kept: each change is a new version, and every version stays."""
