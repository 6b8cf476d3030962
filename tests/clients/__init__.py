"""Clients that public generators make of the interface's description, each driven through a job."""
