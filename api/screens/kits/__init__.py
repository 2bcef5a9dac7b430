"""Kits on pages: made up for a job, staged, issued to it or taken apart."""
