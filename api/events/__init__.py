"""The record of a project's job: events that happened, added one after the other and never altered."""
