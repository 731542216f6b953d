"""Enquiries and their briefs, the list of jobs."""
