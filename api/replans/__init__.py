"""Replans: the next plan of a job that has begun, from the plan, the record and the newest survey."""
