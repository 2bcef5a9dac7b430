"""Feeds of senders that cannot be changed: mapped by the answers of their source, then taken in as every message and file is."""
